/*
 * Backward over the instructions, until nothing changes. Two runs that differ in nothing but a
 * counter that nobody reads any more are one run: without this, each loop on unknown data would
 * split all that follows.
 */
#include "live.h"

#include <stdlib.h>

/* Passes over a program at most; one whose jumps need more is left as it is: all matter. */
enum { PASSES = 64 };

struct live {
	const struct wait_flow *f;
	uint64_t *in;  /* by instruction */
	uint64_t *sub; /* by unit: what it and those that it calls read of the locals they share */
};

static uint64_t reads(const struct wait_flow *f, uint32_t expr)
{
	uint64_t set = expr == WAIT_NOWHERE ? 0 : nc_expr_reads(&f->pool, expr);

	return set & 1 ? UINT64_MAX : set;
}

uint64_t live_arguments(const struct wait_flow *f, uint32_t call)
{
	const struct wait_call *c = &f->call[call];
	uint64_t set = 0;

	for (uint32_t i = 0; i < c->args; i++)
		set |= reads(f, f->arg[c->arg + i].expr);
	return set;
}

/* What instruction i itself reads. */
static uint64_t reads_here(const struct wait_flow *f, uint32_t i)
{
	const struct wait_instr *e = &f->instr[i];

	switch ((enum wait_op)e->op) {
	case WAIT_OP_SET:
	case WAIT_OP_IF:
		return reads(f, e->a) | reads(f, e->b);
	case WAIT_OP_GOTO:
	case WAIT_OP_RETURN:
		return reads(f, e->a);
	case WAIT_OP_UNLESS:
	case WAIT_OP_WHILE:
		return reads(f, e->b);
	case WAIT_OP_CALL:
		return reads(f, f->call[e->a].program) | reads(f, f->call[e->a].repeat) |
		       live_arguments(f, e->a);
	case WAIT_OP_CODE:
	case WAIT_OP_LOOP:
	case WAIT_OP_CANCEL:
	case WAIT_OP_MOVE:
	case WAIT_OP_END:
	case WAIT_OP_UNKNOWN:
		break;
	}
	return 0;
}

/* The one local that a setting certainly sets. */
static uint64_t sets(const struct wait_flow *f, const struct wait_instr *e)
{
	struct nc_value v;
	uint64_t number;

	if (e->op != WAIT_OP_SET || !nc_expr_is_constant(&f->pool, e->a))
		return 0;
	v = nc_expr_eval(&f->pool, e->a, f->profile, NULL, NULL);
	return nc_value_whole(&v, &number) && number >= 1 && number <= 33 ? (uint64_t)1 << number
	                                                                  : 0;
}

static uint64_t at(const struct live *l, const struct wait_unit *u, uint32_t target)
{
	if (target == WAIT_COMPUTED)
		return UINT64_MAX;
	return target < u->end ? l->in[target] : 0;
}

/* What matters in front of instruction i of u. */
static uint64_t before(const struct live *l, const struct wait_unit *u, uint32_t i)
{
	const struct wait_instr *e = &l->f->instr[i];
	uint64_t next = at(l, u, i + 1), set;

	if (l->f->idle[i])
		return next;
	switch ((enum wait_op)e->op) {
	case WAIT_OP_GOTO:
	case WAIT_OP_LOOP:
		set = at(l, u, e->target);
		break;
	case WAIT_OP_IF:
	case WAIT_OP_UNLESS:
	case WAIT_OP_WHILE:
		set = next | at(l, u, e->target);
		break;
	case WAIT_OP_CALL: {
		const struct wait_call *c = &l->f->call[e->a];

		set = next;
		if (c->kind == WAIT_CALL_SUB)
			set |= c->unit < l->f->units ? l->sub[c->unit] : UINT64_MAX;
		break;
	}
	case WAIT_OP_RETURN:
	case WAIT_OP_END:
	case WAIT_OP_UNKNOWN:
		set = 0;
		break;
	default:
		set = next;
	}
	set = (set & ~sets(l->f, e)) | reads_here(l->f, i);
	return e->skip ? set | next : set;
}

static void unit(struct live *l, const struct wait_unit *u)
{
	bool changed = true;

	for (int pass = 0; changed && pass < PASSES; pass++) {
		changed = false;
		for (uint32_t i = u->end; i-- > u->first;) {
			uint64_t set = before(l, u, i);

			changed |= set != l->in[i];
			l->in[i] = set;
		}
	}
	for (uint32_t i = u->first; changed && i < u->end; i++)
		l->in[i] = UINT64_MAX;
}

static void subs(struct live *l)
{
	const struct wait_flow *f = l->f;
	bool changed = true;

	for (int pass = 0; changed && pass < PASSES; pass++) {
		changed = false;
		for (size_t k = f->units; k--;) {
			uint64_t set = l->sub[k];

			for (uint32_t i = f->unit[k].first; i < f->unit[k].end; i++) {
				const struct wait_instr *e = &f->instr[i];

				if (f->idle[i])
					continue;
				set |= reads_here(f, i);
				if (e->op != WAIT_OP_CALL || f->call[e->a].kind != WAIT_CALL_SUB)
					continue;
				set |= f->call[e->a].unit < f->units ? l->sub[f->call[e->a].unit]
				                                     : UINT64_MAX;
			}
			changed |= set != l->sub[k];
			l->sub[k] = set;
		}
	}
	for (size_t k = 0; changed && k < f->units; k++)
		l->sub[k] = UINT64_MAX;
}

/* Some local may come to be known, and no program returns to where it likes. */
static bool worth_it(const struct wait_flow *f)
{
	bool known = f->args > 0;

	for (uint32_t i = 0; i < f->instrs; i++) {
		const struct wait_instr *e = &f->instr[i];

		if (f->idle[i])
			continue;
		known |= e->op == WAIT_OP_SET;
		if (e->op == WAIT_OP_RETURN && e->a != WAIT_NOWHERE)
			return false;
	}
	return known;
}

bool live_new(const struct wait_flow *f, uint64_t **live)
{
	struct live l = {.f = f};

	*live = NULL;
	if (!worth_it(f))
		return true;
	l.in = calloc(f->instrs + 1, sizeof *l.in);
	l.sub = calloc(f->units, sizeof *l.sub);
	if (!l.in || !l.sub) {
		free(l.in);
		free(l.sub);
		return false;
	}
	subs(&l);
	for (size_t i = 0; i < f->units; i++)
		unit(&l, &f->unit[i]);
	free(l.sub);
	*live = l.in;
	return true;
}
