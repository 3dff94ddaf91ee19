/*
 * A person's order to a share that failed for a reason that can pass, and changed nothing, goes back
 * into the queue and is tried again, with pauses that grow, for as long as the machine's retry_s says.
 * Other orders of the machine go meanwhile.
 */
#ifndef RETRY_H
#define RETRY_H

#include "inside.h"

/* Whether this order, which is the machine's current one, is to be tried again: then it is remembered,
 * with the time of its next try. passes: what it failed for can pass. */
bool retry_wanted(struct service *s, struct service_machine *m, const struct carry_order *order,
    bool passes);

/* Tell those who follow the order that it waits, why, and how long. */
void retry_tell(
    struct service *s, const struct service_machine *m, uint64_t order, const char *why);

/* Whether the order waits for its next try now. */
bool retry_waits(
    const struct service *s, const struct service_machine *m, uint64_t order);

/*
 * To be called while a carrier hangs on the machine, and when it is free again. While one hangs nothing
 * can be tried; people's orders that wait for that longer than retry_s have failed: when the share
 * answers days later, nobody expects them any more.
 */
void retry_give_up(struct service *s, struct service_machine *m);

/* Forget them all: the service ends. */
void retry_forget(struct service_machine *m);

#endif
