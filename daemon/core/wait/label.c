/*
 * N numbers of a program as runs: one that is numbered in steps takes one run for all blocks
 * between two instructions.
 */
#include <stdlib.h>
#include "build.h"

/* Lengthen the last run by count numbers; false when they do not follow from it. */
static bool lengthen(struct wait_labels *l, uint32_t first, uint32_t step, uint32_t count)
{
	uint64_t last = l->first + (uint64_t)l->step * (l->count - 1);

	/* again in front of the same instruction */
	if (count == 1 && first == last)
		return true;
	if (first <= last || l->count > UINT32_MAX - count)
		return false;
	if (count > 1 && step != first - last)
		return false;
	if (l->count > 1 && l->step != first - last)
		return false;
	l->step = (uint32_t)(first - last);
	l->count += count;
	return true;
}

bool wait_label_add(
    struct wait_flow *f, uint32_t first, uint32_t step, uint32_t count, uint8_t skip)
{
	struct wait_unit *u = &f->unit[f->units - 1];
	struct wait_labels *l = u->labels ? &f->labels[f->labels_n - 1] : NULL;

	if (l && l->at == f->instrs && l->skip == skip && lengthen(l, first, step, count))
		return true;
	if (f->labels_n >= WAIT_LABELS_MAX) {
		u->cut = true;
		return true;
	}
	l = wait_build_room(f->labels, f->labels_n, &f->labels_n_cap, sizeof *l);
	if (!l)
		return false;
	f->labels = l;
	f->labels[f->labels_n++] =
	    (struct wait_labels){first, step, count, (uint32_t)f->instrs, skip};
	u->labels++;
	return true;
}

static uint64_t last_of(const struct wait_labels *l)
{
	return l->first + (uint64_t)l->step * (l->count - 1);
}

bool wait_label_has(const struct wait_labels *l, uint64_t n)
{
	if (n < l->first || n > last_of(l))
		return false;
	return n == l->first || (l->step && (n - l->first) % l->step == 0);
}

static void found(uint32_t *target, uint32_t at)
{
	if (*target == WAIT_NOWHERE)
		*target = at;
	else if (*target != at)
		*target = WAIT_TWICE;
}

uint32_t wait_flow_label(const struct wait_flow *f, uint32_t unit, uint64_t n, uint8_t *skip)
{
	const struct wait_unit *u = &f->unit[unit];
	uint32_t target = WAIT_NOWHERE;

	if (skip)
		*skip = 0;
	for (uint32_t i = 0; i < u->labels && target != WAIT_TWICE; i++) {
		const struct wait_labels *l = &f->labels[u->label + i];

		if (!wait_label_has(l, n))
			continue;
		found(&target, l->at);
		if (skip)
			*skip = l->skip;
	}
	return u->cut ? WAIT_TWICE : target;
}

/* A jump with a constant label; then each label once, with where it stands. */
struct wanted {
	uint64_t label;
	uint32_t instr, target;
	uint8_t skip; /* of its block */
};

static int by_label(const void *va, const void *vb)
{
	const struct wanted *a = va, *b = vb;

	return (a->label > b->label) - (a->label < b->label);
}

/* The constant label of a jump; labels that cannot stand anywhere are UINT64_MAX. */
static bool constant(const struct wait_flow *f, uint32_t instr, uint64_t *label)
{
	const struct wait_instr *i = &f->instr[instr];
	struct nc_value v;

	/* M99 P in the main program is a jump, too */
	bool back = i->op == WAIT_OP_RETURN && i->a != WAIT_NOWHERE && instr < f->unit[0].end;

	if ((i->op != WAIT_OP_GOTO && i->op != WAIT_OP_IF && !back) ||
	    !nc_expr_is_constant(&f->pool, i->a))
		return false;
	v = nc_expr_eval(&f->pool, i->a, f->profile, NULL, NULL);
	if (v.kind == NC_VALUE_ALARM || v.kind == NC_VALUE_UNKNOWN)
		return false;
	if (!nc_value_whole(&v, label))
		*label = UINT64_MAX;
	return true;
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

static void meet(struct wanted *w, const struct wait_labels *l)
{
	found(&w->target, l->at);
	w->skip = l->skip;
}

/*
 * Look for the wanted labels in a run: whichever are fewer, those wanted in its range or its own,
 * are gone through. So labels cost no more than their blocks did, however runs overlap.
 */
static void look(const struct wait_labels *l, struct wanted *w, size_t n)
{
	size_t k = from(w, n, l->first), end = from(w, n, last_of(l) + 1);

	if (end - k <= l->count) {
		for (; k < end; k++)
			if (wait_label_has(l, w[k].label))
				meet(&w[k], l);
		return;
	}
	for (uint32_t i = 0; i < l->count; i++) {
		uint64_t label = l->first + (uint64_t)l->step * i;

		k += from(w + k, end - k, label);
		if (k < end && w[k].label == label)
			meet(&w[k], l);
	}
}

static bool gather(
    const struct wait_flow *f, const struct wait_unit *u, struct wanted **w, size_t *n, size_t *cap)
{
	*n = 0;
	for (uint32_t i = u->first; i < u->end; i++) {
		struct wanted *more;
		uint64_t label;

		if (!constant(f, i, &label))
			continue;
		more = wait_build_room(*w, *n, cap, sizeof *more);
		if (!more)
			return false;
		*w = more;
		more[(*n)++] = (struct wanted){label, i, WAIT_NOWHERE, 0};
	}
	return true;
}

/* Each label once, in front; their number. */
static size_t once(struct wanted *w, size_t n)
{
	size_t k = 0;

	qsort(w, n, sizeof *w, by_label);
	for (size_t i = 0; i < n; i++)
		if (!k || w[k - 1].label != w[i].label)
			w[k++] = w[i];
	return k;
}

static void give(struct wait_flow *f, const struct wait_unit *u, const struct wanted *w, size_t n)
{
	for (uint32_t i = u->first; i < u->end; i++) {
		uint64_t label;

		const struct wanted *to;

		if (!constant(f, i, &label))
			continue;
		to = &w[from(w, n, label)];
		f->instr[i].target = u->cut ? WAIT_TWICE : to->target;
		/* whether it is found hangs on a switch: only the run knows */
		if (to->skip && f->instr[i].target < WAIT_SKIPPED) {
			f->instr[i].target = WAIT_COMPUTED;
			f->label_skips |= 1u << to->skip;
		}
	}
}

bool wait_label_resolve(struct wait_flow *f)
{
	struct wanted *w = NULL;
	size_t cap = 0, n;

	for (size_t k = 0; k < f->units; k++) {
		const struct wait_unit *u = &f->unit[k];

		if (!gather(f, u, &w, &n, &cap)) {
			free(w);
			return false;
		}
		if (!n)
			continue;
		n = once(w, n);
		for (uint32_t i = 0; i < u->labels; i++)
			look(&f->labels[u->label + i], w, n);
		give(f, u, w, n);
	}
	free(w);
	return true;
}

bool wait_flow_find_loops(struct wait_flow *f)
{
	uint32_t open = WAIT_NOWHERE;

	for (size_t i = 0; i < f->instrs; i++)
		f->loops += f->instr[i].op == WAIT_OP_WHILE;
	f->loop = calloc(f->loops + 1, sizeof *f->loop);
	if (!f->loop)
		return false;
	f->loops = 0;
	for (uint32_t i = 0; i < f->instrs; i++) {
		if (f->instr[i].op != WAIT_OP_WHILE)
			continue;
		while (open != WAIT_NOWHERE && f->loop[open].end < i)
			open = f->loop[open].outer;
		/* behind its END */
		f->loop[f->loops] = (struct wait_loop){i, f->instr[i].target - 1, open};
		open = (uint32_t)f->loops++;
	}
	return true;
}

bool wait_flow_into_loop(const struct wait_flow *f, uint32_t from, uint32_t to)
{
	size_t low = 0, high = f->loops;
	uint32_t k;

	/* the last loop that begins in front of it */
	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (f->loop[middle].begin < to)
			low = middle + 1;
		else
			high = middle;
	}
	k = low ? (uint32_t)low - 1 : WAIT_NOWHERE;
	while (k != WAIT_NOWHERE && f->loop[k].end < to)
		k = f->loop[k].outer;
	return k != WAIT_NOWHERE && !f->idle[f->loop[k].begin] &&
	       (from < f->loop[k].begin || from > f->loop[k].end);
}
