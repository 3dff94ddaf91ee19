/*
 * Orders: one queue per machine, in the vault. An order goes  queued -> carrying -> done | failed |
 * cancelled. People's orders go before those that the service made by itself. "carrying" is
 * recorded before the carrier is started, and each step that changes the machine before it is done.
 */
#ifndef ORDERS_H
#define ORDERS_H

#include "inside.h"

/* Queue the pair that was just released, as the machine's on_release asks, unless there is a later
 * revision of its job; about is the released event. Seq of what was recorded, or 0. */
uint64_t orders_queue_released(
    struct service *s, struct service_machine *m, const struct vault_about *about);

/*
 * Queue an order of a person. from: as in api_call. act: "send", "restore", "fetch" or "drip". part: what shall be there, or
 * which channels to fetch (has_after false). The order's id, or 0.
 */
uint64_t orders_queue(struct service *s, struct service_machine *m, const char *who,
    const char *from, const char *act, const char *job, const char *revision,
    const struct event_part *part, uint32_t parts);

/* Start what can be started. */
void orders_kick(struct service *s);

/* The next try of an automatic order, after a pause that grows with each. */
void orders_try_later(struct service *s, struct service_machine *m);

/*
 * Whether what was released when the order was queued still is; a restored pair was proven and
 * needs no release. 1 yes, 0 no with why (size n), -1 it cannot be told now.
 */
int orders_still_released(struct service *s, const struct vault_order *o, char *why, size_t n);

/* True for an order that the service made by itself. */
bool orders_is_automatic(const struct vault_order *o);

/* Cancel an order: a queued one at once, a running one through its carrier. 0, -ENOENT, -EALREADY,
 * -EIO. */
int orders_cancel(struct service *s, uint64_t id, const char *who);

/* An order that is under way and has changed nothing yet goes back into the queue. why: a static
 * sentence. */
void orders_halt(struct service *s, struct service_machine *m, const char *why);

#endif
