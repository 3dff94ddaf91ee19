/* Which program each call means, and how calls nest. */
#include <stdlib.h>
#include <string.h>
#include "build.h"

static int by_number(const void *va, const void *vb)
{
	const struct wait_entry *a = va, *b = vb;

	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return (a->unit > b->unit) - (a->unit < b->unit);
}

static bool same_file(const struct wait_flow *f, uint32_t a, uint32_t b)
{
	return f->unit[a].file == f->unit[b].file;
}

/* The program with this number: the file's own go before those of sisters. WAIT_TWICE: which of two
 * in one file a control keeps is not known. */
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
	if (low == f->entries || f->index[low].number != number)
		return WAIT_NOWHERE;
	if (low + 1 < f->entries && f->index[low + 1].number == number &&
	    same_file(f, f->index[low].unit, f->index[low + 1].unit))
		return WAIT_TWICE;
	return f->index[low].unit;
}

uint32_t wait_flow_unit(const struct wait_flow *f, uint64_t number, uint32_t *times)
{
	uint32_t unit = find(f, number);
	uint64_t front = number / 10000;

	*times = 0;
	if (unit != WAIT_NOWHERE || !front || front > UINT32_MAX || f->profile->number_max > 9999)
		return unit;
	unit = find(f, number % 10000);
	if (unit < WAIT_TWICE)
		*times = (uint32_t)front;
	return unit;
}

struct named {
	const char *name;
	uint32_t unit;
};

static int by_name(const void *va, const void *vb)
{
	const struct named *a = va, *b = vb;
	int d = strcmp(a->name, b->name);

	return d ? d : (a->unit > b->unit) - (a->unit < b->unit);
}

static uint32_t find_name(
    const struct wait_flow *f, const struct named *v, size_t n, const char *name)
{
	size_t low = 0, high = n;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (strcmp(v[middle].name, name) < 0)
			low = middle + 1;
		else
			high = middle;
	}
	if (low == n || strcmp(v[low].name, name) != 0)
		return WAIT_NOWHERE;
	if (low + 1 < n && strcmp(v[low + 1].name, name) == 0 &&
	    same_file(f, v[low].unit, v[low + 1].unit))
		return WAIT_TWICE;
	return v[low].unit;
}

static void resolve(const struct wait_flow *f, struct wait_call *c)
{
	struct nc_value v;
	uint64_t number;

	c->unit = WAIT_COMPUTED;
	c->times = 0;
	c->resident = false;
	if (!nc_expr_is_constant(&f->pool, c->program))
		return;
	v = nc_expr_eval(&f->pool, c->program, f->profile, NULL, NULL);
	if (!nc_value_whole(&v, &number))
		return;
	c->unit = wait_flow_unit(f, number, &c->times);
	/* only calls of subprograms hold repeats in front, and then not in L */
	if (c->times && (c->kind != WAIT_CALL_SUB || c->repeat != WAIT_NOWHERE)) {
		c->unit = WAIT_NOWHERE;
		c->times = 0;
	}
	c->resident = c->unit == WAIT_NOWHERE && profile_is_resident(f->profile, number);
}

bool wait_resolve_calls(struct wait_flow *f)
{
	struct named *named = calloc(f->units, sizeof *named);
	size_t n = 0;

	f->index = calloc(f->units, sizeof *f->index);
	if (!named || !f->index) {
		free(named);
		return false;
	}
	for (uint32_t i = 0; i < f->units; i++) {
		const struct wait_unit *u = &f->unit[i];

		if (u->numbered)
			f->index[f->entries++] = (struct wait_entry){u->number, i};
		else if (u->name)
			named[n++] = (struct named){u->name, i};
	}
	qsort(f->index, f->entries, sizeof *f->index, by_number);
	qsort(named, n, sizeof *named, by_name);
	for (size_t i = 0; i < f->calls; i++) {
		struct wait_call *c = &f->call[i];

		if (c->name)
			c->unit = find_name(f, named, n, c->name);
		else
			resolve(f, c);
	}
	free(named);
	return true;
}

/* A program on the way down through the calls. */
struct step {
	uint32_t unit, next;
};

struct descent {
	struct wait_resolve *r;
	bool certain;  /* only through calls that are made whatever the data */
	uint8_t *mark; /* 1: on the way, 2: done */
	struct step *stack;
	size_t n;
};

/* True where it is not certain that what stands behind is executed. */
static bool decides(const struct wait_resolve *r, uint32_t i)
{
	const struct wait_instr *e = &r->f->instr[i];

	if (r->reach[i] != WAIT_REACH_YES)
		return true;
	return e->op == WAIT_OP_IF || e->op == WAIT_OP_UNLESS || e->op == WAIT_OP_WHILE ||
	       e->op == WAIT_OP_GOTO || e->op == WAIT_OP_UNKNOWN || e->op == WAIT_OP_RETURN ||
	       e->op == WAIT_OP_END;
}

/* The next call of the step at hand that leads to a program not seen yet, WAIT_NOWHERE when there
 * is none: heights come up from below. */
static uint32_t descend(struct descent *d, struct step *s)
{
	struct wait_flow *f = d->r->f;
	struct wait_unit *u = &f->unit[s->unit];

	for (; s->next < u->end; s->next++) {
		const struct wait_instr *e = &f->instr[s->next];
		uint32_t to = WAIT_NOWHERE;

		if (d->certain && decides(d->r, s->next))
			break;
		if (e->op == WAIT_OP_CALL && d->r->reach[s->next] && !(d->certain && e->skip))
			to = f->call[e->a].unit;
		if (d->certain && e->op == WAIT_OP_CALL && f->call[e->a].kind == WAIT_CALL_MODAL)
			to = WAIT_NOWHERE;
		if (to >= f->units)
			continue;
		if (d->mark[to] == 0)
			return to;
		if (d->certain && d->mark[to] == 1)
			f->call[e->a].why = WAIT_RECURSIVE;
		else if (!d->certain && d->mark[to] == 2 && f->unit[to].height + 1 > u->height)
			u->height = f->unit[to].height + 1;
	}
	return WAIT_NOWHERE;
}

/* From this program down; a stack of our own, because a file may nest as deep as it likes. */
static void go_down(struct descent *d, uint32_t unit)
{
	const struct wait_flow *f = d->r->f;

	if (d->mark[unit])
		return;
	for (;;) {
		if (unit != WAIT_NOWHERE) {
			d->mark[unit] = 1;
			d->stack[d->n++] = (struct step){unit, f->unit[unit].first};
		}
		unit = descend(d, &d->stack[d->n - 1]);
		if (unit != WAIT_NOWHERE)
			continue;
		d->mark[d->stack[--d->n].unit] = 2;
		if (!d->n)
			return;
	}
}

bool wait_resolve_depth(struct wait_resolve *r)
{
	struct wait_flow *f = r->f;
	struct descent d = {.r = r};
	bool ok;

	d.mark = calloc(f->units, 1);
	d.stack = calloc(f->units, sizeof *d.stack);
	ok = d.mark && d.stack;
	for (int certain = 0; ok && certain < 2; certain++) {
		memset(d.mark, 0, f->units);
		d.certain = certain;
		for (uint32_t k = 0; k < f->units; k++)
			if (f->unit[k].reached)
				go_down(&d, k);
	}
	free(d.stack);
	free(d.mark);
	return ok;
}
