/* Who stands for a pair, and which pairs were withdrawn. Inside the vault only. */
#ifndef VAULT_CONSENT_H
#define VAULT_CONSENT_H

#include "state.h"

/* What the two kinds of event do to the state. 0; -1 failed, told. */
int consent_accepted(struct vault *v, const struct event *e);
int consent_withdrawn(struct vault *v, const struct event *e);

/* A pair about to be written: one that was withdrawn stays so, whatever is decided. 0, -1. */
int consent_of_pair(struct vault *v, const char *area, const char *job, const char *revision,
    struct vault_pair *p);

/* Whether the event may be recorded, as far as consent and withdrawal matter. 0; -1 refused, told. */
int consent_check(struct vault *v, const struct event *e);

/* Parts as a key: in an order of their own. */
void consent_sorted(struct parts_bytes *out, const struct vault_part *part, uint32_t parts);

#endif
