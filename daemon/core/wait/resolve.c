/* Which program each call means. */
#include "build.h"

static uint32_t find(const struct wait_flow *f, uint64_t number)
{
	size_t low = 0, high = f->entries;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (f->index[middle].number < number)
			low = middle + 1;
		else
			high = middle;
	}
	return low < f->entries && f->index[low].number == number ? f->index[low].unit
	                                                          : WAIT_NOWHERE;
}

uint32_t wait_flow_unit(const struct wait_flow *f, uint64_t number, uint32_t *times)
{
	uint32_t unit = find(f, number);
	uint64_t front = number / 10000;

	*times = 0;
	if (unit != WAIT_NOWHERE || !front || front > UINT32_MAX || f->profile->number_max > 9999)
		return unit;
	unit = find(f, number % 10000);
	if (unit != WAIT_NOWHERE)
		*times = (uint32_t)front;
	return unit;
}

bool wait_resolve_calls(struct wait_resolve *r)
{
	struct wait_flow *f = r->f;

	for (size_t i = 0; i < f->calls; i++) {
		struct wait_call *c = &f->call[i];
		struct nc_value v;
		uint64_t number;

		c->unit = WAIT_COMPUTED;
		c->times = 0;
		c->resident = false;
		if (c->program == WAIT_NOWHERE || !nc_expr_is_constant(&f->pool, c->program))
			continue;
		v = nc_expr_eval(&f->pool, c->program, f->profile, NULL, NULL);
		if (!nc_value_whole(&v, &number))
			continue;
		c->unit = wait_flow_unit(f, number, &c->times);
		/* only calls of subprograms hold repeats in front */
		if (c->times && (c->kind != WAIT_CALL_SUB || c->repeat != WAIT_NOWHERE)) {
			c->unit = WAIT_NOWHERE;
			c->times = 0;
		}
		c->resident = c->unit == WAIT_NOWHERE && profile_is_resident(f->profile, number);
	}
	return true;
}
