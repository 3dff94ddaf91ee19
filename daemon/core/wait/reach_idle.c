/*
 * What cannot change the wait codes met. Everything that may be idle is taken to be so; what is
 * found to matter makes more matter, until nothing changes: at most one round for each local
 * variable.
 */
#include <stdlib.h>
#include <string.h>
#include "build.h"

/* How much a program matters to those that call it. */
enum {
	NOTHING,
	RUNS,  /* it holds loops, which may run for ever */
	CODES, /* it changes the wait codes met */
};

struct idle {
	struct wait_flow *f;
	const uint8_t *reach;
	uint64_t live; /* locals that something which matters reads */
	uint8_t *unit; /* how much each matters */
	/* the calls of each unit: by call, the one before it and its place */
	uint32_t *sites, *before, *instr, *caller;
	uint32_t *stack;
	size_t n;
	bool modal;
};

static void read(struct idle *d, uint32_t expr)
{
	uint64_t reads = expr == WAIT_NOWHERE ? 0 : nc_expr_reads(&d->f->pool, expr);

	d->live |= reads & 1 ? UINT64_MAX : reads;
}

static void unit_matters(struct idle *d, uint32_t unit, uint8_t how)
{
	if (d->unit[unit] >= how)
		return;
	d->unit[unit] = how;
	d->stack[d->n++] = unit;
}

/* Callers of what matters matter. Each unit is taken from the stack at most twice. */
static void spread(struct idle *d)
{
	while (d->n) {
		uint32_t unit = d->stack[--d->n];

		for (uint32_t k = d->sites[unit]; k; k = d->before[k - 1]) {
			d->f->idle[d->instr[k - 1]] = 0;
			d->modal |= d->f->call[k - 1].kind == WAIT_CALL_MODAL;
			unit_matters(d, d->caller[k - 1], d->unit[unit]);
		}
	}
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
	return !nc_value_whole(&v, &number) ||
	       (number >= 1 && number <= 33 && d->live >> number & 1);
}

/* A call that nothing is known to come back from. */
static bool lost_call(const struct wait_flow *f, const struct wait_call *c)
{
	return (!c->resident && c->unit >= f->units) ||
	       (c->why && strcmp(c->why, WAIT_RECURSIVE) == 0);
}

/* What instruction i of a unit does by itself, apart from what it calls. */
static uint8_t does(const struct idle *d, uint32_t unit, uint32_t i)
{
	const struct wait_instr *e = &d->f->instr[i];

	switch ((enum wait_op)e->op) {
	case WAIT_OP_CODE:
	case WAIT_OP_UNKNOWN:
		return CODES;
	case WAIT_OP_SET:
		return set_matters(d, e) ? CODES : NOTHING;
	case WAIT_OP_CALL:
		return lost_call(d->f, &d->f->call[e->a]) ? CODES : NOTHING;
	case WAIT_OP_CANCEL:
	case WAIT_OP_MOVE:
		return d->modal ? CODES : NOTHING;
	case WAIT_OP_END:
		/* the main program ends with its own END: that alone is nothing that it does */
		return unit ? CODES : NOTHING;
	case WAIT_OP_RETURN:
		return unit && e->a != WAIT_NOWHERE ? CODES : NOTHING;
	case WAIT_OP_GOTO:
	case WAIT_OP_IF:
		return e->target <= i ? RUNS : NOTHING;
	case WAIT_OP_WHILE:
	case WAIT_OP_LOOP:
		return RUNS;
	case WAIT_OP_UNLESS:
		break;
	}
	return NOTHING;
}

/* A jump whose target is not known from the text. Where nothing else matters it stays among what
 * does not: such a program either ends or not, and data that are not known are taken to end it. */
static bool strays(const struct wait_instr *e)
{
	bool jump = e->op == WAIT_OP_GOTO || e->op == WAIT_OP_IF ||
	            (e->op == WAIT_OP_RETURN && e->a != WAIT_NOWHERE);

	return jump && e->target >= WAIT_TWICE;
}

static void weigh(struct idle *d, uint32_t k)
{
	const struct wait_unit *u = &d->f->unit[k];
	uint8_t most = NOTHING;
	bool stray = false, code = false;

	for (uint32_t i = u->first; i < u->end; i++) {
		uint8_t how = d->reach[i] ? does(d, k, i) : NOTHING;

		code |= d->f->instr[i].op == WAIT_OP_CODE;
		stray |= d->reach[i] && strays(&d->f->instr[i]);
		if (how > most)
			most = how;
		if (how)
			d->f->idle[i] = 0;
	}
	if (most == CODES || !stray)
		unit_matters(d, k, most);
	/* one that is not reached may be: nothing is known of where the jump leads */
	else if (code)
		unit_matters(d, k, CODES);
}

/* Jumps and conditions that lead over nothing but idle instructions do not matter; what the others
 * read does. From the last to the first: next is the first behind i that is not idle. */
static void jumps(struct idle *d, uint32_t k)
{
	struct wait_flow *f = d->f;
	const struct wait_unit *u = &f->unit[k];
	uint32_t next = u->end;

	for (uint32_t i = u->end; i-- > u->first;) {
		const struct wait_instr *e = &f->instr[i];
		bool over = e->target > i && e->target < WAIT_TWICE && e->target <= next;

		if (e->op == WAIT_OP_RETURN || e->op == WAIT_OP_END || !d->reach[i])
			f->idle[i] = 0;
		if ((e->op == WAIT_OP_GOTO || e->op == WAIT_OP_IF || e->op == WAIT_OP_UNLESS) &&
		    !over)
			f->idle[i] = 0;
		if (!f->idle[i])
			next = i;
	}
}

static void reads_of(struct idle *d, const struct wait_instr *e)
{
	const struct wait_call *c;

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
		c = &d->f->call[e->a];
		read(d, c->program);
		read(d, c->repeat);
		for (uint32_t i = 0; i < c->args; i++)
			read(d, d->f->arg[c->arg + i].expr);
		break;
	default:
		break;
	}
}

static void reads(struct idle *d, uint32_t k)
{
	const struct wait_unit *u = &d->f->unit[k];

	for (uint32_t i = u->first; d->unit[k] && i < u->end; i++)
		if (d->reach[i] && !d->f->idle[i])
			reads_of(d, &d->f->instr[i]);
}

static void link_calls(struct idle *d)
{
	const struct wait_flow *f = d->f;

	for (uint32_t k = 0; k < f->units; k++) {
		for (uint32_t i = f->unit[k].first; i < f->unit[k].end; i++) {
			const struct wait_instr *e = &f->instr[i];
			uint32_t to = e->op == WAIT_OP_CALL && d->reach[i] ? f->call[e->a].unit
			                                                   : WAIT_NOWHERE;

			if (to >= f->units)
				continue;
			d->instr[e->a] = i;
			d->caller[e->a] = k;
			d->before[e->a] = d->sites[to];
			d->sites[to] = e->a + 1;
		}
	}
}

static void settle(struct idle *d)
{
	struct wait_flow *f = d->f;
	uint64_t live;
	bool modal;

	memset(f->idle, 1, f->instrs);
	do {
		live = d->live;
		modal = d->modal;
		for (uint32_t k = 0; k < f->units; k++)
			weigh(d, k);
		spread(d);
		for (uint32_t k = 0; k < f->units; k++)
			jumps(d, k);
		for (uint32_t k = 0; k < f->units; k++)
			reads(d, k);
	} while (live != d->live || modal != d->modal);
	/* a main program that meets nobody, whatever it does; but where it ends is told */
	for (uint32_t i = 0; d->unit[0] == NOTHING && i < f->instrs; i++)
		if (f->instr[i].op != WAIT_OP_END && f->instr[i].op != WAIT_OP_RETURN)
			f->idle[i] = 1;
	if (d->unit[0] == CODES)
		f->skips |= f->label_skips;
	for (uint32_t k = 0; k < f->units; k++) {
		struct wait_unit *u = &f->unit[k];

		u->relevant = k ? d->unit[k] != NOTHING : d->unit[k] == CODES;
		for (uint32_t i = u->first; i < u->end; i++)
			if (f->instr[i].skip && d->reach[i] && !f->idle[i])
				f->skips |= 1u << f->instr[i].skip;
	}
}

bool wait_reach_idle(struct wait_resolve *r, bool *modal)
{
	struct wait_flow *f = r->f;
	struct idle d = {.f = f, .reach = r->reach};
	bool ok;

	d.unit = calloc(f->units, 1);
	d.sites = calloc(f->units, sizeof *d.sites);
	d.before = calloc(f->calls + 1, sizeof *d.before);
	d.instr = calloc(f->calls + 1, sizeof *d.instr);
	d.caller = calloc(f->calls + 1, sizeof *d.caller);
	d.stack = calloc(f->units * 2, sizeof *d.stack);
	ok = d.unit && d.sites && d.before && d.instr && d.caller && d.stack;
	if (ok) {
		link_calls(&d);
		settle(&d);
	}
	*modal = d.modal;
	free(d.unit);
	free(d.sites);
	free(d.before);
	free(d.instr);
	free(d.caller);
	free(d.stack);
	return ok;
}
