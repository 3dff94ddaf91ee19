/* Parts of a main program that are executed several times, as ranges of its text. */
#include <stdlib.h>
#include "flow.h"
#include "restart_inside.h"

static int by_low(const void *a, const void *b)
{
	const struct restart_range *x = a, *y = b;

	return (x->low > y->low) - (x->low < y->low);
}

/* Ranges that overlap become one. */
static void merge(struct restart_ranges *r)
{
	size_t n = 0;

	qsort(r->v, r->n, sizeof(*r->v), by_low);
	for (size_t i = 0; i < r->n; i++) {
		if (n && r->v[i].low <= r->v[n - 1].high) {
			if (r->v[i].high > r->v[n - 1].high)
				r->v[n - 1].high = r->v[i].high;
		} else {
			r->v[n++] = r->v[i];
		}
	}
	r->n = n;
}

static bool loops(const struct wait_flow *f, const struct wait_instr *i, bool jumps)
{
	uint32_t at = (uint32_t)(i - f->instr);
	bool jump = i->op == WAIT_OP_GOTO || i->op == WAIT_OP_IF;

	if (jumps)
		return jump && i->target <= at;
	return i->op == WAIT_OP_LOOP && i->target <= at;
}

/* A loop begins at its WHILE. A label stands somewhere behind the instruction in front of the one
 * that it leads to. */
static uint64_t begin(const struct wait_flow *f, const struct wait_instr *i, bool jumps)
{
	if (!jumps)
		return f->instr[i->target].offset;
	return i->target > f->unit[0].first ? f->instr[i->target - 1].offset : 0;
}

/* Backward instructions of one kind, from their target to themselves. */
static bool backward(const struct wait_flow *f, bool jumps, struct restart_ranges *out)
{
	const struct wait_unit *u = &f->unit[0];
	size_t n = 0;

	*out = (struct restart_ranges){0};
	for (uint32_t k = u->first; f->units && k < u->end; k++)
		n += loops(f, &f->instr[k], jumps);
	if (n == 0)
		return true;
	out->v = calloc(n, sizeof(*out->v));
	if (!out->v)
		return false;
	for (uint32_t k = u->first; k < u->end; k++) {
		const struct wait_instr *i = &f->instr[k];

		if (loops(f, i, jumps))
			out->v[out->n++] = (struct restart_range){begin(f, i, jumps), i->offset};
	}
	merge(out);
	return true;
}

bool restart_range_loops(const struct wait_flow *f, struct restart_ranges *out)
{
	return backward(f, false, out);
}

bool restart_range_jumps(const struct wait_flow *f, struct restart_ranges *out)
{
	return backward(f, true, out);
}

bool restart_range_holds(const struct restart_ranges *r, uint64_t offset)
{
	size_t low = 0, high = r->n;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (r->v[middle].high < offset)
			low = middle + 1;
		else
			high = middle;
	}
	return low < r->n && r->v[low].low < offset;
}
