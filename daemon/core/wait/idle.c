/*
 * What cannot change the wait codes met. Everything that may be idle is taken to be so; what is
 * found to matter makes more matter, until nothing changes: at most one round for each local
 * variable and each unit.
 */
#include <stdlib.h>
#include <string.h>
#include "build.h"

struct idle {
	struct wait_flow *f;
	uint64_t live; /* locals that something which matters reads; bit 0: any */
	bool changed;
};

static void read(struct idle *d, uint32_t expr)
{
	uint64_t reads = expr == WAIT_NOWHERE ? 0 : nc_expr_reads(&d->f->pool, expr);

	if (reads & 1)
		reads = UINT64_MAX;
	d->changed |= (reads & ~d->live) != 0;
	d->live |= reads;
}

static void read_call(struct idle *d, const struct wait_call *c)
{
	read(d, c->program);
	read(d, c->repeat);
	for (uint32_t i = 0; i < c->args; i++)
		read(d, d->f->arg[c->arg + i].expr);
}

/* A setting of a local that something reads. */
static bool set_matters(const struct idle *d, const struct wait_instr *i)
{
	struct nc_value v;
	uint64_t number;

	if (!d->live)
		return false;
	if (!nc_expr_is_constant(&d->f->pool, i->a))
		return true;
	v = nc_expr_eval(&d->f->pool, i->a, d->f->profile, NULL, NULL);
	return nc_value_whole(&v, &number) && number >= 1 && number <= 33 && d->live >> number & 1;
}

static bool call_matters(const struct wait_flow *f, const struct wait_call *c)
{
	if (c->resident)
		return false;
	return c->unit >= f->units || f->unit[c->unit].relevant;
}

/* Forward, over instructions that are all idle; next: the first behind it that is not. */
static bool passes_over(const struct wait_instr *e, uint32_t i, uint32_t next)
{
	return e->target > i && e->target < WAIT_TWICE && e->target <= next;
}

static bool matters(const struct idle *d, uint32_t i, uint32_t next, bool modal)
{
	const struct wait_instr *e = &d->f->instr[i];

	switch ((enum wait_op)e->op) {
	case WAIT_OP_SET:
		return set_matters(d, e);
	case WAIT_OP_CALL:
		return call_matters(d->f, &d->f->call[e->a]);
	case WAIT_OP_IF:
	case WAIT_OP_UNLESS:
		return !passes_over(e, i, next);
	case WAIT_OP_CANCEL:
	case WAIT_OP_MOVE:
		return modal;
	default:
		return true;
	}
}

/* What of an instruction that matters makes its unit matter to its callers: a jump within does not.
 */
static bool for_callers(const struct wait_instr *e)
{
	switch ((enum wait_op)e->op) {
	case WAIT_OP_CODE:
	case WAIT_OP_SET:
	case WAIT_OP_CALL:
	case WAIT_OP_CANCEL:
	case WAIT_OP_END:
	case WAIT_OP_UNKNOWN:
		return true;
	case WAIT_OP_RETURN:
		return e->a != WAIT_NOWHERE;
	default:
		return false;
	}
}

static void reads_of(struct idle *d, const struct wait_instr *e)
{
	switch ((enum wait_op)e->op) {
	case WAIT_OP_SET:
	case WAIT_OP_GOTO:
	case WAIT_OP_IF:
	case WAIT_OP_UNLESS:
	case WAIT_OP_WHILE:
	case WAIT_OP_RETURN:
		read(d, e->a);
		read(d, e->b);
		break;
	case WAIT_OP_CALL:
		read_call(d, &d->f->call[e->a]);
		break;
	default:
		break;
	}
}

static void unit(struct idle *d, size_t k, bool modal)
{
	struct wait_flow *f = d->f;
	struct wait_unit *u = &f->unit[k];
	uint32_t next = u->end;
	bool relevant = false;

	for (uint32_t i = u->end; i-- > u->first;) {
		const struct wait_instr *e = &f->instr[i];
		bool was = !f->idle[i];

		if (!was && !matters(d, i, next, modal))
			continue;
		if (!was) {
			f->idle[i] = 0;
			d->changed = true;
		}
		next = i;
		/* the main program ends with its own END: that alone is nothing that it does */
		relevant |= for_callers(e) && !(k == 0 && e->op == WAIT_OP_END);
	}
	if (relevant && !u->relevant) {
		u->relevant = true;
		d->changed = true;
	}
	/* what is read in a program in which nothing matters does not matter */
	for (uint32_t i = u->first; u->relevant && i < u->end; i++)
		if (!f->idle[i])
			reads_of(d, &f->instr[i]);
}

/* A modal call of a program that matters stands somewhere. */
static bool modal_matters(const struct wait_flow *f)
{
	for (size_t i = 0; i < f->calls; i++)
		if (f->call[i].kind == WAIT_CALL_MODAL && call_matters(f, &f->call[i]))
			return true;
	return false;
}

bool wait_idle(struct wait_flow *f)
{
	struct idle d = {.f = f};

	memset(f->idle, 1, f->instrs);
	do {
		bool modal = modal_matters(f);

		d.changed = false;
		/* callees mostly stand behind their callers */
		for (size_t k = f->units; k--;)
			unit(&d, k, modal);
	} while (d.changed);
	for (size_t k = 0; k < f->units; k++) {
		const struct wait_unit *u = &f->unit[k];

		for (uint32_t i = u->first; u->reached && i < u->end; i++)
			if (f->instr[i].skip && !f->idle[i] && (u->relevant || k == 0))
				f->skips |= 1u << f->instr[i].skip;
	}
	return true;
}
