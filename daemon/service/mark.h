/* What an order's outcome means for the machine. */
#ifndef MARK_H
#define MARK_H

#include "yoke/carry.h"

/*
 * As an event: CARRIED, KEPT or CANCELLED, SPLIT when channels hold halves of two pairs, a part, or
 * something else, UNKNOWN when that cannot be said.
 */
enum event_kind mark_of(const struct carry_order *order, const struct carry_outcome *o);

#endif
