#include "known.h"

#include <stdio.h>
#include <string.h>

void known_grant(struct known *k, const struct carry_order *order, const struct carry_step *step)
{
	if (step->step != CARRY_STEP_REPLACE && step->step != CARRY_STEP_TRANSMIT &&
	    step->step != CARRY_STEP_PUT_BACK)
		return;
	for (uint32_t i = 0; i < order->items; i++)
		if (step->item == i || step->item == order->items)
			k->touched[i] = true;
}

void known_outcome(const struct known *k, const struct carry_order *order, enum carry_error error,
    const char *text, struct carry_outcome *out)
{
	memset(out, 0, sizeof *out);
	out->error = error;
	out->items = out->item = order->items;
	for (uint32_t i = 0; i < order->items; i++)
		out->channel[i].held = k->touched[i] || order->act == CARRY_INSPECT
		                           ? CARRY_HELD_UNKNOWN
		                           : CARRY_HELD_OLD;
	snprintf(out->text, sizeof out->text, "%s", text);
}

bool known_item(const struct carry_order *order, uint32_t item)
{
	return item < order->items;
}
