/* Rows of the vault as JSON. All give a new reference. */
#ifndef SHOW_JSON_H
#define SHOW_JSON_H

#include "inside.h"

/* Set key to a string made visible; "" is left out. */
void show_json_put(json_t *o, const char *key, const char *value);
void show_json_time(json_t *o, const char *key, int64_t utc_us);
json_t *show_json_parts(const struct vault_part *part, uint32_t n);
json_t *show_json_pair(const struct vault_pair *p);
/* Set "accepted" of a pair's JSON: who stands for exactly these programs, where anybody does. 0, -1. */
int show_json_accepted(struct service *s, json_t *o, const struct vault_pair *p);

json_t *show_json_order(const struct vault_order *o);
json_t *show_json_machine(struct service *s, const struct service_machine *m);

#endif
