#include "mark.h"

enum event_kind mark_of(const struct carry_order *order, const struct carry_outcome *o)
{
	unsigned new = 0, old = 0, unknown = 0, broken = 0;

	for (uint32_t i = 0; i < order->items; i++)
		switch ((enum carry_held)o->channel[i].held) {
		case CARRY_HELD_NEW:
			new ++;
			break;
		case CARRY_HELD_OLD:
			old++;
			break;
		case CARRY_HELD_ABSENT:
			/* What was gone before the order is as before; after an order that was
			 * cut short it may be the order that took it away. */
			if (order->item[i].has_expect && order->act == CARRY_INSPECT)
				broken++;
			else
				old++;
			break;
		case CARRY_HELD_OTHER:
		case CARRY_HELD_STUMP:
			broken++;
			break;
		case CARRY_HELD_UNKNOWN:
		default:
			unknown++;
		}
	/* All of it left us, but what the control punched is no equal copy. */
	if (new == order->items &&
	    (o->error == CARRY_ERROR_DAMAGED || o->error == CARRY_ERROR_FRAMING))
		return EVENT_UNKNOWN;
	if (new == order->items)
		return EVENT_CARRIED;
	if (old == order->items)
		return o->error == CARRY_ERROR_CANCELLED ? EVENT_CANCELLED : EVENT_KEPT;
	if (broken || new)
		return EVENT_SPLIT;
	return EVENT_UNKNOWN;
}
