/*
 * N numbers of a unit as runs: a program that is numbered in steps takes one run for all blocks
 * between two instructions.
 */
#include <stdlib.h>
#include "build.h"

bool wait_label_add(struct wait_flow *f, uint32_t first, uint32_t step, uint32_t count)
{
	struct wait_unit *u = &f->unit[f->units - 1];
	struct wait_labels *l = u->labels ? &f->labels[f->labels_n - 1] : NULL;

	if (l && l->at == f->instrs && l->count == 1 && count == 1 && first > l->first) {
		l->step = first - l->first;
		l->count = 2;
		return true;
	}
	if (l && l->at == f->instrs && l->count < UINT32_MAX - count &&
	    first == (uint64_t)l->first + (uint64_t)l->step * l->count &&
	    (count == 1 || step == l->step)) {
		l->count += count;
		return true;
	}
	l = wait_build_room(f->labels, f->labels_n, &f->labels_n_cap, sizeof *l);
	if (!l)
		return false;
	f->labels = l;
	f->labels[f->labels_n++] = (struct wait_labels){first, step, count, (uint32_t)f->instrs};
	u->labels++;
	return true;
}

/* How many times n stands in the run: 0 or 1, a step of 0 apart. */
static bool has(const struct wait_labels *l, uint64_t n)
{
	if (n < l->first)
		return false;
	if (!l->step || l->count == 1)
		return n == l->first;
	return (n - l->first) % l->step == 0 && (n - l->first) / l->step < l->count;
}

static void found(uint32_t *target, uint32_t at)
{
	if (*target == WAIT_NOWHERE)
		*target = at;
	else if (*target != at)
		*target = WAIT_TWICE;
}

uint32_t wait_flow_label(const struct wait_flow *f, uint32_t unit, uint64_t n)
{
	const struct wait_unit *u = &f->unit[unit];
	uint32_t target = WAIT_NOWHERE;

	for (uint32_t i = 0; i < u->labels; i++)
		if (has(&f->labels[u->label + i], n))
			found(&target, f->labels[u->label + i].at);
	return target;
}

/* A jump with a constant label. */
struct wanted {
	uint64_t label;
	uint32_t instr;
};

static int by_label(const void *va, const void *vb)
{
	const struct wanted *a = va, *b = vb;

	return (a->label > b->label) - (a->label < b->label);
}

static bool constant(const struct wait_flow *f, uint32_t instr, uint64_t *label)
{
	const struct wait_instr *i = &f->instr[instr];
	struct nc_value v;

	if ((i->op != WAIT_OP_GOTO && i->op != WAIT_OP_IF) || !nc_expr_is_constant(&f->pool, i->a))
		return false;
	v = nc_expr_eval(&f->pool, i->a, f->profile, NULL, NULL);
	return nc_value_whole(&v, label);
}

/* The first of the wanted labels that is n or more. */
static size_t from(const struct wanted *w, size_t n, uint64_t label)
{
	size_t low = 0, high = n;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (w[middle].label < label)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

/* Jumps with one label share what is found for the first of them. */
static void resolve(struct wait_flow *f, const struct wait_unit *u, struct wanted *w, size_t n)
{
	for (uint32_t i = 0; i < u->labels; i++) {
		const struct wait_labels *l = &f->labels[u->label + i];
		uint64_t last = l->first + (uint64_t)l->step * (l->count - 1);

		for (size_t k = from(w, n, l->first); k < n && w[k].label <= last; k++) {
			if (k && w[k - 1].label == w[k].label)
				continue;
			if (has(l, w[k].label))
				found(&f->instr[w[k].instr].target, l->at);
		}
	}
	for (size_t k = 1; k < n; k++)
		if (w[k - 1].label == w[k].label)
			f->instr[w[k].instr].target = f->instr[w[k - 1].instr].target;
}

bool wait_label_resolve(struct wait_flow *f)
{
	struct wanted *w = NULL;
	size_t cap = 0;

	for (size_t k = 0; k < f->units; k++) {
		const struct wait_unit *u = &f->unit[k];
		size_t n = 0;

		for (uint32_t i = u->first; i < u->end; i++) {
			struct wanted *more;
			uint64_t label;

			if (!constant(f, i, &label))
				continue;
			more = wait_build_room(w, n, &cap, sizeof *w);
			if (!more) {
				free(w);
				return false;
			}
			w = more;
			w[n++] = (struct wanted){label, i};
			f->instr[i].target = WAIT_NOWHERE;
		}
		if (n) {
			qsort(w, n, sizeof *w, by_label);
			resolve(f, u, w, n);
		}
	}
	free(w);
	return true;
}
