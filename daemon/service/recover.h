/*
 * Orders that are under way in the vault and have no carrier: the service had ended, the carrier
 * had died, or the outcome could not be recorded.
 *
 *   nothing was changed yet: back into the queue, or cancelled
 *   a share: a carrier looks what is there and brings it to all old or all new
 *   a serial line: unknown, until the machine was sent to
 *   a program that was executed while it was read: over, and what the machine holds is as before
 */
#ifndef RECOVER_H
#define RECOVER_H

#include "inside.h"

/* At start, before the first order. Also frees machines from carriers that an earlier service could
 * not end. 0, -1. */
int recover_start(struct service *s);

/* The order has no carrier any more and no recorded outcome: take it up at the next kick, or, with
 * pause, after a pause that grows with each. */
void recover_later(struct service *s, struct service_machine *m, uint64_t order, bool pause);

/* Take up m->unsettled when its time has come. */
void recover_unsettled(struct service *s, struct service_machine *m);

/* Take it up now. m is NULL for a machine that is no longer configured. */
void recover_order(struct service *s, struct service_machine *m, const struct vault_order *o);

#endif
