/*
 * A look at a share between orders found something: what the machine holds is no longer what was
 * carried there, or is again.
 */
#ifndef LOOKED_H
#define LOOKED_H

#include "inside.h"

/*
 * The carrier that looks says that item of its order is now the program c, which the vault has, or is
 * gone. Recorded: drift with its difference by meaning, once for each change; or read-back, when all
 * channels are again what was carried. 0; -1 when it could not be recorded, and is to be looked at again.
 */
int looked(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c);

/* A look has seen all items, and told those that differ: when none does, drift is over, also one that was
 * put right while nobody looked; when another still does, that is told of each that is right again. As
 * looked(). */
int looked_all(struct service *s, struct service_machine *m, const struct carry_order *order);

/* True when the carrier that looks found what is expected there: the vault has it, be it with other line
 * ends. */
bool looked_has(const struct carry_order *order, const struct carry_content *c);

/* Fill an order for a carrier that looks at what the machine is known to hold. False when there is
 * nothing that could be compared. */
bool looked_order(struct service *s, const struct service_machine *m, struct carry_order *order);

#endif
