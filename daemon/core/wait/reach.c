/*
 * Which instructions some run may come to: a flood from the beginning of the main program, both
 * ways through conditions that are not constant, into what is called and behind it when it
 * returns. A second flood goes on behind what is not followed.
 */
#include <stdlib.h>
#include <string.h>
#include "build.h"

struct at {
	uint32_t unit, instr;
};

/* A call that was reached; calls of one program form a list. */
struct site {
	struct at at;
	uint32_t next; /* index + 1 in sites, 0: none */
};

struct flood {
	struct wait_resolve *r;
	struct at *stack;
	size_t n;
	uint8_t level; /* WAIT_REACH_* */
	uint8_t *unit; /* for each: what was done for it, as below */
	struct site *site;
	uint32_t *sites; /* of each unit: its first site, index + 1 */
	size_t calls;
	bool everything; /* any program may be called */
	bool armed;      /* the flood of modal calls */
	bool bare;       /* it came where blocks that move left nothing */
	bool back;       /* it came back from some program */
};

enum {
	ENTERED = 1,
	RETURNS = 2, /* it may come back behind its call */
	LEAPS = 4,   /* it may come back to any label of its caller */
	LABELS = 8,  /* all its labels were reached */
	OVER = 16,   /* its end is on the stack, or was */
};

static void to(struct flood *d, uint32_t unit, uint32_t instr)
{
	const struct wait_unit *u = &d->r->f->unit[unit];

	d->bare |= d->armed && instr < u->bare;
	if (instr >= u->end) {
		if (!d->armed && !d->r->falls[unit])
			d->r->falls[unit] = d->level;
		if (!(d->unit[unit] & OVER))
			d->stack[d->n++] = (struct at){unit, u->end};
		d->unit[unit] |= OVER;
		return;
	}
	if (d->r->reach[instr])
		return;
	d->r->reach[instr] = d->level;
	d->stack[d->n++] = (struct at){unit, instr};
}

static void enter(struct flood *d, uint32_t unit)
{
	if (d->unit[unit] & ENTERED)
		return;
	d->unit[unit] |= ENTERED;
	to(d, unit, d->r->f->unit[unit].first);
}

static void all_labels(struct flood *d, uint32_t unit)
{
	const struct wait_flow *f = d->r->f;
	const struct wait_unit *u = &f->unit[unit];

	if (d->unit[unit] & LABELS)
		return;
	d->unit[unit] |= LABELS;
	for (uint32_t i = 0; i < u->labels; i++)
		to(d, unit, f->labels[u->label + i].at);
	/* labels that were not kept */
	for (uint32_t i = u->first; u->cut && i < u->end; i++)
		to(d, unit, i);
}

/* What a call is followed by, once its program is known to come back. */
static void behind(struct flood *d, const struct at *call, uint8_t how)
{
	if (how & RETURNS)
		to(d, call->unit, call->instr + 1);
	if (how & LEAPS)
		all_labels(d, call->unit);
}

static void come_back(struct flood *d, uint32_t unit, uint8_t how)
{
	uint8_t more = how & (uint8_t)~d->unit[unit];

	d->back |= unit != 0;
	d->bare |= d->armed && how & LEAPS;
	if (!more || d->armed)
		return;
	d->unit[unit] |= more;
	for (uint32_t k = d->sites[unit]; k; k = d->site[k - 1].next)
		behind(d, &d->site[k - 1].at, more);
}

static void call(struct flood *d, const struct at *at, const struct wait_call *c)
{
	struct wait_flow *f = d->r->f;

	if ((c->unit == WAIT_COMPUTED || c->unit == WAIT_TWICE) && !d->everything) {
		d->everything = true;
		for (uint32_t k = 0; k < f->units; k++)
			enter(d, k);
	}
	if (c->unit >= f->units || c->kind == WAIT_CALL_MODAL || d->armed) {
		to(d, at->unit, at->instr + 1);
		if (c->unit < f->units)
			enter(d, c->unit);
		return;
	}
	d->site[d->calls] = (struct site){*at, d->sites[c->unit]};
	d->sites[c->unit] = (uint32_t)++d->calls;
	enter(d, c->unit);
	behind(d, at, d->unit[c->unit]);
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

static void label(struct flood *d, const struct at *at, uint32_t target)
{
	if (target == WAIT_COMPUTED || (target == WAIT_TWICE && d->level == WAIT_REACH_DOUBT))
		all_labels(d, at->unit);
	else if (target < WAIT_TWICE)
		to(d, at->unit, target);
}

static void back(struct flood *d, const struct at *at)
{
	const struct wait_instr *i = &d->r->f->instr[at->instr];

	if (at->unit == 0 && i->a != WAIT_NOWHERE)
		label(d, at, i->target);
	else if (at->unit == 0)
		/* the program begins again */
		to(d, 0, d->r->f->unit[0].first);
	come_back(d, at->unit, i->a == WAIT_NOWHERE ? RETURNS : LEAPS);
}

static void branch(struct flood *d, const struct at *at, int yes)
{
	const struct wait_instr *i = &d->r->f->instr[at->instr];
	bool jump = i->op == WAIT_OP_IF ? yes != 0 : yes != 1;
	bool on = i->op == WAIT_OP_IF ? yes != 1 : yes != 0;

	if (jump)
		label(d, at, i->target);
	if (on)
		to(d, at->unit, at->instr + 1);
}

static void follow(struct flood *d, const struct at *at)
{
	const struct wait_flow *f = d->r->f;
	const struct wait_instr *i = &f->instr[at->instr];

	if (i->skip)
		to(d, at->unit, at->instr + 1);
	switch ((enum wait_op)i->op) {
	case WAIT_OP_GOTO:
	case WAIT_OP_LOOP:
		label(d, at, i->target);
		break;
	case WAIT_OP_IF:
	case WAIT_OP_UNLESS:
	case WAIT_OP_WHILE:
		branch(d, at, constant(f, i->b));
		break;
	case WAIT_OP_CALL:
		call(d, at, &f->call[i->a]);
		break;
	case WAIT_OP_RETURN:
		back(d, at);
		break;
	case WAIT_OP_END:
		break;
	case WAIT_OP_UNKNOWN:
		if (d->level == WAIT_REACH_YES)
			break;
		all_labels(d, at->unit);
		to(d, at->unit, at->instr + 1);
		break;
	case WAIT_OP_CANCEL:
		if (!d->armed)
			to(d, at->unit, at->instr + 1);
		break;
	default:
		to(d, at->unit, at->instr + 1);
	}
}

static void run(struct flood *d)
{
	while (d->n) {
		struct at at = d->stack[--d->n];

		if (at.instr == d->r->f->unit[at.unit].end)
			come_back(d, at.unit, RETURNS);
		else
			follow(d, &at);
	}
}

static bool begin(struct flood *d, struct wait_resolve *r)
{
	const struct wait_flow *f = r->f;

	*d = (struct flood){.r = r, .level = WAIT_REACH_YES};
	/* each instruction and each end of a unit is put there once */
	d->stack = calloc(f->instrs + f->units, sizeof *d->stack);
	d->unit = calloc(f->units, 1);
	d->site = calloc(f->calls + 1, sizeof *d->site);
	d->sites = calloc(f->units, sizeof *d->sites);
	return d->stack && d->unit && d->site && d->sites;
}

static void end(struct flood *d)
{
	free(d->stack);
	free(d->unit);
	free(d->site);
	free(d->sites);
}

/* Go on behind what is not followed: a label that stands twice, too. */
static void in_doubt(struct flood *d)
{
	const struct wait_flow *f = d->r->f;

	d->level = WAIT_REACH_DOUBT;
	for (uint32_t k = 0; k < f->units; k++) {
		for (uint32_t i = f->unit[k].first; i < f->unit[k].end; i++) {
			const struct wait_instr *e = &f->instr[i];
			struct at at = {k, i};

			if (d->r->reach[i] == WAIT_REACH_YES &&
			    (e->op == WAIT_OP_UNKNOWN || e->target == WAIT_TWICE))
				follow(d, &at);
		}
	}
	run(d);
}

bool wait_reach(struct wait_resolve *r)
{
	struct wait_flow *f = r->f;
	struct flood d;
	bool ok = begin(&d, r);

	if (ok) {
		for (uint32_t k = 0; k < (r->library ? f->units : 1); k++)
			enter(&d, k);
		run(&d);
		in_doubt(&d);
		for (size_t k = 0; k < f->units; k++) {
			f->unit[k].reached = d.unit[k] & ENTERED;
			f->unit[k].leaps = d.unit[k] & LEAPS;
		}
	}
	end(&d);
	return ok;
}

/* Every call's place: after a modal call all of them may have something behind them. */
static void behind_calls(struct flood *d, const uint8_t *reach)
{
	const struct wait_flow *f = d->r->f;

	for (uint32_t k = 0; k < f->units; k++)
		for (uint32_t i = f->unit[k].first; i < f->unit[k].end; i++)
			if (f->instr[i].op == WAIT_OP_CALL && reach[i])
				to(d, k, i + 1);
}

bool wait_reach_modal(struct wait_resolve *r)
{
	static const char why[] =
	    "a modal call that blocks in front of it in the file may come under";
	struct wait_flow *f = r->f;
	uint8_t *reach = r->reach;
	struct flood d;
	bool ok;

	r->reach = calloc(f->instrs + 1, 1);
	ok = begin(&d, r) && r->reach;
	d.armed = true;
	for (uint32_t k = 0; ok && k < f->units; k++) {
		for (uint32_t i = f->unit[k].first; i < f->unit[k].end; i++) {
			const struct wait_instr *e = &f->instr[i];

			if (reach[i] && e->op == WAIT_OP_CALL && !f->idle[i] &&
			    f->call[e->a].kind == WAIT_CALL_MODAL)
				to(&d, k, i + 1);
		}
	}
	if (ok)
		run(&d);
	if (ok && d.back) {
		behind_calls(&d, reach);
		run(&d);
	}
	for (size_t i = 0; ok && d.bare && i < f->calls; i++)
		if (f->call[i].kind == WAIT_CALL_MODAL && !f->call[i].why)
			f->call[i].why = why;
	end(&d);
	free(r->reach);
	r->reach = reach;
	return ok;
}
