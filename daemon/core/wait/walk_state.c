/* What the local variables of a walk hold, and whether two walks stand at one place. */
#include "walk_inside.h"

#define LOCAL(n) ((uint64_t)1 << (n))

static struct nc_value read_local(void *ctx, uint32_t number)
{
	return wait_walk_read(ctx, number);
}

struct nc_value wait_walk_read(const struct wait_walk *w, uint32_t number)
{
	const struct wait_locals *l = &w->frame[w->frame[w->depth].level].locals;

	if (number == 0)
		return (struct nc_value){.kind = NC_VALUE_VACANT};
	if (number > WAIT_LOCALS || !(l->known & LOCAL(number)))
		return nc_value_unknown();
	return l->v[number];
}

struct nc_value wait_walk_eval(const struct wait_walk *w, uint32_t expr)
{
	return nc_expr_eval(&w->f->pool, expr, w->f->profile, read_local, (void *)(uintptr_t)w);
}

void wait_walk_set(struct wait_walk *w, uint32_t at)
{
	const struct wait_instr *i = &w->f->instr[at];
	struct wait_locals *l = &w->frame[w->frame[w->depth].level].locals;
	struct nc_value index = wait_walk_eval(w, i->a), v = wait_walk_eval(w, i->b);
	uint64_t number;

	if (index.kind == NC_VALUE_ALARM || v.kind == NC_VALUE_ALARM) {
		if (!w->f->idle[at]) {
			wait_walk_lost(w, at, v.kind == NC_VALUE_ALARM ? v.why : index.why);
			return;
		}
		v = nc_value_unknown();
	}
	if (!nc_value_whole(&index, &number)) {
		l->known = 0;
		return;
	}
	if (number < 1 || number > WAIT_LOCALS)
		return;
	if (v.kind == NC_VALUE_UNKNOWN) {
		l->known &= ~LOCAL(number);
		return;
	}
	l->known |= LOCAL(number);
	l->v[number] = v;
}

void wait_locals_assign(struct wait_locals *to, const struct wait_locals *from)
{
	to->known = from->known;
	for (uint64_t rest = from->known; rest; rest &= rest - 1) {
		int i = __builtin_ctzll(rest);

		to->v[i] = from->v[i];
	}
}

static bool same_value(const struct nc_value *a, const struct nc_value *b)
{
	return a->kind == b->kind && a->rounds == b->rounds && nc_value_same(a, b);
}

void wait_locals_common(struct wait_locals *to, const struct wait_locals *from)
{
	to->known &= from->known;
	for (uint64_t rest = to->known; rest; rest &= rest - 1) {
		int i = __builtin_ctzll(rest);

		if (!same_value(&to->v[i], &from->v[i]))
			to->known &= ~LOCAL(i);
	}
}

static bool same_locals(const struct wait_locals *a, const struct wait_locals *b)
{
	if (a->known != b->known)
		return false;
	for (uint64_t rest = a->known; rest; rest &= rest - 1) {
		int i = __builtin_ctzll(rest);

		if (!same_value(&a->v[i], &b->v[i]))
			return false;
	}
	return true;
}

/* Same place, same calls; the locals apart. */
static bool same_place(const struct wait_walk *a, const struct wait_walk *b)
{
	if (a->next != b->next || a->unit != b->unit || a->depth != b->depth ||
	    a->kind != b->kind || a->modal->on != b->modal->on)
		return false;
	for (uint32_t i = 0; i <= a->depth; i++) {
		const struct wait_frame *p = &a->frame[i], *q = &b->frame[i];

		if (p->unit != q->unit || p->next != q->next || p->left != q->left ||
		    p->level != q->level || p->modal != q->modal || p->call != q->call)
			return false;
	}
	return !a->modal->on ||
	       (a->modal->call == b->modal->call && a->modal->unit == b->modal->unit &&
	           a->modal->times == b->modal->times &&
	           same_locals(&a->modal->locals, &b->modal->locals));
}

bool wait_walk_same(const struct wait_walk *a, const struct wait_walk *b)
{
	if (!same_place(a, b))
		return false;
	for (uint32_t i = 0; i <= a->depth; i++)
		if (a->frame[i].level == i &&
		    !same_locals(&a->frame[i].locals, &b->frame[i].locals))
			return false;
	return true;
}

bool wait_walk_widen(struct wait_walk *w, const struct wait_walk *other)
{
	if (!same_place(w, other))
		return false;
	for (uint32_t i = 0; i <= w->depth; i++)
		if (w->frame[i].level == i)
			wait_locals_common(&w->frame[i].locals, &other->frame[i].locals);
	return true;
}
