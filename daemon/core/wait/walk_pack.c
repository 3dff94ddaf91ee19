/* All that the rest of a run depends on, as bytes; what nobody reads any more is left out. */
#include <stdlib.h>
#include <string.h>
#include "live.h"
#include "walk_inside.h"

static bool room(struct wait_bytes *b, size_t n)
{
	size_t cap = b->cap ? b->cap : 256;
	uint8_t *v;

	while (cap - b->n < n)
		cap *= 2;
	if (cap == b->cap)
		return true;
	v = realloc(b->v, cap);
	if (!v)
		return false;
	b->v = v;
	b->cap = cap;
	return true;
}

bool wait_bytes_add(struct wait_bytes *b, const void *bytes, size_t n)
{
	if (!room(b, n))
		return false;
	memcpy(b->v + b->n, bytes, n);
	b->n += n;
	return true;
}

static void put(struct wait_bytes *b, const void *bytes, size_t n)
{
	memcpy(b->v + b->n, bytes, n);
	b->n += n;
}

static const uint8_t *get(const uint8_t *from, void *to, size_t n)
{
	memcpy(to, from, n);
	return from + n;
}

/* A value without its padding, so that equal values are equal bytes. */
static void put_value(struct wait_bytes *b, const struct nc_value *v)
{
	uint8_t head[2] = {v->kind, v->rounds};

	put(b, head, sizeof head);
	if (v->kind == NC_VALUE_EXACT) {
		put(b, &v->num, sizeof v->num);
		put(b, &v->den, sizeof v->den);
	}
	if (v->kind == NC_VALUE_EXACT || v->kind == NC_VALUE_NEAR)
		put(b, &v->real, sizeof v->real);
}

static const uint8_t *get_value(const uint8_t *p, struct nc_value *v)
{
	*v = (struct nc_value){.kind = p[0], .rounds = p[1]};
	p += 2;
	if (v->kind == NC_VALUE_EXACT) {
		p = get(p, &v->num, sizeof v->num);
		p = get(p, &v->den, sizeof v->den);
	}
	if (v->kind == NC_VALUE_EXACT || v->kind == NC_VALUE_NEAR)
		p = get(p, &v->real, sizeof v->real);
	return p;
}

static void put_locals(struct wait_bytes *b, const struct wait_locals *l, uint64_t live)
{
	uint64_t known = l->known & live;

	put(b, &known, sizeof known);
	for (uint64_t rest = known; rest; rest &= rest - 1)
		put_value(b, &l->v[__builtin_ctzll(rest)]);
}

static const uint8_t *get_locals(const uint8_t *p, struct wait_locals *l)
{
	p = get(p, &l->known, sizeof l->known);
	for (uint64_t rest = l->known; rest; rest &= rest - 1)
		p = get_value(p, &l->v[__builtin_ctzll(rest)]);
	return p;
}

/* Of a frame but its locals; the main program's hold nothing. */
struct head {
	uint32_t unit, next, call, level;
	uint64_t left;
	uint32_t modal, idle;
};

/* Of the walk itself. */
struct top {
	uint32_t unit, next, at;
	uint16_t depth;
	uint8_t kind, flags;
};

enum { TOP_MODAL = 1, TOP_ROUND = 2 };

static void put_frame(const struct wait_walk *w, uint32_t i, uint64_t live, struct wait_bytes *b)
{
	const struct wait_frame *f = &w->frame[i];
	struct head h = {f->unit, f->next, f->call, f->level, f->left, f->modal, f->idle};

	if (i)
		put(b, &h, sizeof h);
	if (f->level == i)
		put_locals(b, &f->locals, live);
}

/* It does not go on from here with what its variables hold: M99 of the main program forgets them.
 */
static bool is_over(const struct wait_walk *w)
{
	switch (w->kind) {
	case WAIT_WALK_END:
	case WAIT_WALK_ROUND:
	case WAIT_WALK_UNKNOWN:
	case WAIT_WALK_LONG:
	case WAIT_WALK_ENDLESS:
		return true;
	case WAIT_WALK_WENT:
	case WAIT_WALK_CODE:
	case WAIT_WALK_BRANCH:
		break;
	}
	return false;
}

/* Locals of frame i that matter: to the program at hand, or to one that goes on later. */
static uint64_t live_in(const struct wait_walk *w, uint32_t i)
{
	uint64_t live = 0;

	if (!w->live)
		return UINT64_MAX;
	/* What stands behind the last instruction is not gone on with: nobody reads anything there.
	 */
	if (is_over(w))
		return 0;
	for (uint32_t k = i; k <= w->depth; k++) {
		const struct wait_frame *above = k < w->depth ? &w->frame[k + 1] : NULL;
		uint32_t next = above ? above->next : w->next;
		const struct wait_unit *u = &w->f->unit[above ? above->unit : w->unit];

		if (w->frame[k].level != i)
			continue;
		if (!above && w->kind == WAIT_WALK_BRANCH)
			next = w->at;
		live |= next < u->end ? w->live[next] : 0;
		if (w->frame[k].left > 1 && u->first < u->end)
			live |= w->live[u->first];
		if (above && above->left > 1)
			live |= live_arguments(w->f, above->call);
	}
	return live;
}

bool wait_walk_pack(const struct wait_walk *w, struct wait_bytes *bytes)
{
	struct top top = {w->unit, w->next, w->at, (uint16_t)w->depth, (uint8_t)w->kind,
	    (uint8_t)((w->modal->on ? TOP_MODAL : 0) | (w->round ? TOP_ROUND : 0))};
	size_t most = (WAIT_LOCALS + 1) * (sizeof(struct nc_value) + 2) + sizeof(struct head);

	if (!room(bytes, sizeof top + sizeof w->why + (w->depth + 2) * most))
		return false;
	put(bytes, &top, sizeof top);
	if (w->kind == WAIT_WALK_UNKNOWN)
		put(bytes, &w->why, sizeof w->why);
	for (uint32_t i = 0; i <= w->depth; i++)
		put_frame(w, i, live_in(w, i), bytes);
	if (w->modal->on) {
		put(bytes, &w->modal->call, sizeof w->modal->call);
		put(bytes, &w->modal->unit, sizeof w->modal->unit);
		put(bytes, &w->modal->times, sizeof w->modal->times);
		put_locals(bytes, &w->modal->locals, UINT64_MAX);
	}
	return true;
}

size_t wait_walk_unpack(struct wait_walk *w, const uint8_t *bytes)
{
	const uint8_t *p = bytes;
	const char *why = NULL;
	struct top top;

	p = get(p, &top, sizeof top);
	if (top.kind == WAIT_WALK_UNKNOWN)
		p = get(p, &why, sizeof why);
	w->unit = top.unit;
	w->next = top.next;
	w->depth = top.depth;
	w->round = top.flags & TOP_ROUND;
	w->modal->on = top.flags & TOP_MODAL;
	w->move = WAIT_MOVE_ON;
	w->skips = 0;
	wait_walk_answer(w, (enum wait_walk_kind)top.kind, top.at, why);
	for (uint32_t i = 0; i <= w->depth; i++) {
		struct wait_frame *f = &w->frame[i];
		struct head h = {0};

		if (i)
			p = get(p, &h, sizeof h);
		f->unit = h.unit;
		f->next = h.next;
		f->call = h.call;
		f->level = h.level;
		f->left = h.left;
		f->modal = h.modal;
		f->idle = h.idle;
		if (f->level == i)
			p = get_locals(p, &f->locals);
	}
	if (w->modal->on) {
		p = get(p, &w->modal->call, sizeof w->modal->call);
		p = get(p, &w->modal->unit, sizeof w->modal->unit);
		p = get(p, &w->modal->times, sizeof w->modal->times);
		p = get_locals(p, &w->modal->locals);
	}
	return (size_t)(p - bytes);
}
