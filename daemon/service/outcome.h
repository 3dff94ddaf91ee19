/* What carriers report, turned into events. */
#ifndef OUTCOME_H
#define OUTCOME_H

#include "inside.h"

/* The dispatch's calls, with the service as their ctx. */
extern const struct dispatch_calls outcome_calls;

/* A new order, made from o, is about to be given to the machine's carrier. */
void outcome_reset(struct service *s, struct service_machine *m, const struct vault_order *o,
    const struct carry_order *order);

/* The last line of an order's stream: {"end": kind, "error": name, "text": text}; then the stream
 * is closed. */
void outcome_end_follow(
    struct service *s, uint64_t order, const char *kind, const char *error, const char *text);

/* Take what came from a machine into the vault; fd stays the caller's. has: the vault has this text with
 * other line ends, and the bytes are only checked. 0, -1. */
int outcome_keep(struct service *s, const struct carry_content *c, bool has, int fd);

/* The same with n bytes of this sum. */
int outcome_keep_bytes(struct service *s, const void *bytes, size_t n, const struct sha *sum);

/* Progress as JSON, as streams and machines show it. New reference. */
json_t *outcome_progress(const struct service_machine *m);

#endif
