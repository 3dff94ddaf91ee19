/*
 * Which instructions some run may come to: a flood from the beginning of the main program, both
 * ways through conditions that are not constant, into what is called and behind it.
 */
#include <stdlib.h>
#include <string.h>
#include "build.h"

struct at {
	uint32_t unit, instr;
};

struct flood {
	struct wait_resolve *r;
	struct at *stack;
	size_t n;
	bool anywhere; /* a program returns to a label that its caller has */
};

static void to(struct flood *d, uint32_t unit, uint32_t instr)
{
	const struct wait_unit *u = &d->r->f->unit[unit];

	if (instr >= u->end) {
		d->r->falls[unit] = true;
		return;
	}
	if (d->r->reach[instr])
		return;
	d->r->reach[instr] = 1;
	d->stack[d->n++] = (struct at){unit, instr};
}

static void enter(struct flood *d, uint32_t unit)
{
	struct wait_unit *u = &d->r->f->unit[unit];

	if (u->reached)
		return;
	u->reached = true;
	to(d, unit, u->first);
}

static void all_of(struct flood *d, uint32_t unit)
{
	const struct wait_unit *u = &d->r->f->unit[unit];

	for (uint32_t i = u->first; i < u->end; i++)
		to(d, unit, i);
}

static void label(struct flood *d, const struct at *at, uint32_t target)
{
	if (target == WAIT_COMPUTED || target == WAIT_TWICE)
		all_of(d, at->unit);
	else if (target != WAIT_NOWHERE)
		to(d, at->unit, target);
}

/* What a condition without variables is: 1, 0; -1 for any other. */
static int constant(const struct wait_flow *f, uint32_t expr)
{
	struct nc_value v;

	if (expr == WAIT_NOWHERE)
		return 1;
	if (!nc_expr_is_constant(&f->pool, expr))
		return -1;
	v = nc_expr_eval(&f->pool, expr, f->profile, NULL, NULL);
	return nc_value_truth(&v);
}

static void call(struct flood *d, const struct wait_call *c)
{
	const struct wait_flow *f = d->r->f;

	if (c->unit < f->units)
		enter(d, c->unit);
	for (uint32_t k = 0; c->unit == WAIT_COMPUTED && k < f->units; k++)
		enter(d, k);
}

static void follow(struct flood *d, const struct at *at)
{
	const struct wait_flow *f = d->r->f;
	const struct wait_instr *i = &f->instr[at->instr];
	bool on = i->skip != 0;
	int yes;

	switch ((enum wait_op)i->op) {
	case WAIT_OP_GOTO:
		label(d, at, i->target);
		break;
	case WAIT_OP_IF:
		yes = constant(f, i->b);
		on |= yes != 1;
		if (yes)
			label(d, at, i->target);
		break;
	case WAIT_OP_UNLESS:
	case WAIT_OP_WHILE:
		yes = constant(f, i->b);
		on |= yes != 0;
		if (yes != 1)
			to(d, at->unit, i->target);
		break;
	case WAIT_OP_LOOP:
		to(d, at->unit, i->target);
		break;
	case WAIT_OP_CALL:
		call(d, &f->call[i->a]);
		on = true;
		break;
	case WAIT_OP_RETURN:
		if (i->a != WAIT_NOWHERE && at->unit == 0)
			all_of(d, 0);
		d->anywhere |= i->a != WAIT_NOWHERE;
		break;
	case WAIT_OP_END:
		break;
	default:
		on = true;
	}
	if (on)
		to(d, at->unit, at->instr + 1);
}

static void run(struct flood *d)
{
	while (d->n) {
		struct at at = d->stack[--d->n];

		follow(d, &at);
	}
}

bool wait_reach(struct wait_resolve *r)
{
	struct flood d = {.r = r};
	struct wait_flow *f = r->f;
	size_t before;

	d.stack = calloc(f->instrs + 1, sizeof *d.stack);
	if (!d.stack)
		return false;
	for (uint32_t k = 0; k < (r->library ? f->units : 1); k++)
		enter(&d, k);
	run(&d);
	do {
		before = 0;
		for (uint32_t k = 0; d.anywhere && k < f->units; k++)
			if (f->unit[k].reached)
				all_of(&d, k);
		before = d.n;
		run(&d);
	} while (before);
	free(d.stack);
	return true;
}
