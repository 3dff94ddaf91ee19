/*
 * From a condition on unknown data a channel may go both ways. A search over the places that it can
 * come to, each once, finds every stop, also behind a loop that such a condition ends.
 */
#include <stdlib.h>
#include <string.h>
#include "product.h"

/*
 * Conditions and stops that one search visits at most; and how often it comes to one condition
 * before it forgets what differs there. A loop on unknown data that counts would never end
 * otherwise.
 */
enum { WAYS_MAX = 1 << 16, WAYS_EXACT = 8 };

/* What was found of a condition. */
struct way_site {
	uint32_t first; /* index + 1 */
	uint32_t n;
};

void ways_free(struct ways *s)
{
	wait_walk_end(&s->walk);
	wait_walk_end(&s->other);
	free(s->bytes.v);
	free(s->site);
	free(s->v);
	index_free(&s->index);
	memset(s, 0, sizeof *s);
}

static bool grow(struct ways *s)
{
	if (s->n == s->cap) {
		size_t cap = s->cap ? s->cap * 2 : 16;
		struct way *v = reallocarray(s->v, cap, sizeof *v);

		if (!v)
			return false;
		s->v = v;
		s->cap = cap;
	}
	return index_room(&s->index, &s->bytes, s->v, sizeof *s->v, s->n);
}

/* The scratch walk stands at a condition where it stood before, several times: in a loop. Returns
 * whether it has forgotten something. */
static bool widen(struct ways *s)
{
	struct way_site *site = &s->site[s->walk.at];

	if (site->n < WAYS_EXACT)
		return false;
	wait_walk_unpack(&s->other, s->bytes.v + s->v[site->first - 1].piece.at);
	return wait_walk_widen(&s->walk, &s->other);
}

static void count(struct ways *s, size_t i)
{
	struct way_site *site = &s->site[s->walk.at];

	if (s->v[i].kind == WAIT_WALK_BRANCH && site->n++ == 0)
		site->first = (uint32_t)i + 1;
}

/* Where the scratch walk stands, if that is new; *to: which of the ways that is. */
static bool add(struct ways *s, uint32_t from, bool yes, uint32_t *to)
{
	bool wide = from != PRODUCT_NONE && s->v[from].wide;
	size_t at = s->bytes.n;
	uint32_t *slot;
	struct way *w;

	if (s->walk.kind == WAIT_WALK_BRANCH)
		wide |= widen(s);
	if (!grow(s) || !wait_walk_pack(&s->walk, &s->bytes))
		return false;
	slot = index_slot(&s->index, &s->bytes, s->v, sizeof *s->v, at);
	if (*slot) {
		s->bytes.n = at;
		*to = *slot - 1;
		w = &s->v[*to];
		if (w->wide && !wide) {
			w->from = from;
			w->yes = yes;
			w->wide = false;
		}
		return true;
	}
	s->v[s->n] = (struct way){.piece = {at, s->bytes.n - at},
	    .steps = s->walk.steps,
	    .from = from,
	    .yes = yes,
	    .kind = (uint8_t)s->walk.kind,
	    .wide = wide};
	*slot = (uint32_t)s->n + 1;
	*to = (uint32_t)s->n;
	count(s, s->n++);
	return true;
}

/* More ways than can be looked at. */
static bool add_unknown(struct ways *s, const struct wait_walk *w)
{
	uint32_t to;

	wait_walk_assign(&s->walk, w);
	s->walk.kind = WAIT_WALK_UNKNOWN;
	s->walk.why = "there are more ways from this condition on than are looked at";
	return add(s, PRODUCT_NONE, false, &to);
}

/* Nothing was found so far. */
static bool clear(struct ways *s, const struct wait_flow *f)
{
	if (!s->site)
		s->site = calloc(f->instrs, sizeof *s->site);
	if (!s->site)
		return false;
	for (size_t i = 0; i < s->n; i++) {
		struct way *w = &s->v[i];

		if (w->kind != WAIT_WALK_BRANCH)
			continue;
		wait_walk_unpack(&s->other, s->bytes.v + w->piece.at);
		s->site[s->other.at] = (struct way_site){0};
	}
	s->n = 0;
	s->bytes.n = 0;
	index_clear(&s->index);
	return true;
}

/*
 * The first condition behind which there is no stop, whichever way is taken; PRODUCT_NONE when each
 * leads to one. *failed: there was no memory.
 */
static uint32_t dead_end(const struct ways *s, bool *failed)
{
	/* by way: the edges to it; of an edge 2 * from + yes: the next one to the same way */
	uint32_t *head = calloc(s->n, sizeof *head), *next = calloc(s->n * 2, sizeof *next);
	uint32_t *todo = calloc(s->n, sizeof *todo), dead = PRODUCT_NONE;
	uint8_t *stops = calloc(s->n, 1);
	size_t n = 0;

	*failed = !head || !next || !todo || !stops;
	if (*failed)
		goto out;
	for (uint32_t i = 0; i < s->n; i++) {
		if (s->v[i].kind != WAIT_WALK_BRANCH) {
			stops[i] = 1;
			todo[n++] = i;
			continue;
		}
		for (uint32_t yes = 0; yes <= 1; yes++) {
			next[2 * i + yes] = head[s->v[i].to[yes]];
			head[s->v[i].to[yes]] = 2 * i + yes + 1;
		}
	}
	while (n) {
		uint32_t node = todo[--n];

		for (uint32_t e = head[node]; e; e = next[e - 1]) {
			uint32_t from = (e - 1) / 2;

			if (stops[from])
				continue;
			stops[from] = 1;
			todo[n++] = from;
		}
	}
	for (uint32_t i = 0; i < s->n && dead == PRODUCT_NONE; i++)
		if (!stops[i])
			dead = i;
out:
	free(head);
	free(next);
	free(todo);
	free(stops);
	return dead;
}

/* A way that never comes to a stop is one of its own, if there is any: the channel runs on in
 * silence. False without memory. */
static bool add_endless(struct ways *s, const struct wait_walk *w)
{
	bool failed;
	uint32_t dead = dead_end(s, &failed), to;

	if (failed || dead == PRODUCT_NONE)
		return !failed;
	wait_walk_assign(&s->walk, w);
	wait_walk_unpack(&s->walk, s->bytes.v + s->v[dead].piece.at);
	s->walk.steps = s->v[dead].steps;
	s->walk.kind = WAIT_WALK_ENDLESS;
	if (!add(s, s->v[dead].from, s->v[dead].yes, &to))
		return false;
	s->v[to].wide |= s->v[dead].wide;
	return true;
}

bool ways_find(struct ways *s, const struct wait_walk *w, uint64_t *steps)
{
	bool back = false;
	uint32_t to;

	if (!clear(s, w->f))
		return false;
	wait_walk_assign(&s->walk, w);
	if (!add(s, PRODUCT_NONE, false, &to))
		return false;
	for (size_t i = 0; i < s->n && s->n < WAYS_MAX; i++) {
		if (s->v[i].kind != WAIT_WALK_BRANCH)
			continue;
		for (int yes = 0; yes <= 1; yes++) {
			wait_walk_assign(&s->walk, w);
			wait_walk_unpack(&s->walk, s->bytes.v + s->v[i].piece.at);
			s->walk.steps = s->v[i].steps;
			wait_walk_take(&s->walk, yes);
			wait_walk_next(&s->walk);
			*steps += s->walk.steps - s->v[i].steps;
			if (!add(s, (uint32_t)i, yes, &to))
				return false;
			s->v[i].to[yes] = to;
			back |= to <= i;
		}
	}
	if (s->n >= WAYS_MAX)
		return add_unknown(s, w);
	/* without a way back each comes to a stop */
	return !back || add_endless(s, w);
}

bool ways_walk(
    const struct ways *s, uint32_t i, struct wait_walk *w, ways_chosen_fn *chosen, void *ctx)
{
	uint32_t *path, n = 0, k;

	if (s->v[i].from == PRODUCT_NONE) {
		wait_walk_unpack(w, s->bytes.v + s->v[i].piece.at);
		return true;
	}
	path = reallocarray(NULL, s->n, sizeof *path);
	if (!path)
		return false;
	for (k = i; s->v[k].from != PRODUCT_NONE; k = s->v[k].from)
		path[n++] = k;
	while (n--) {
		bool yes = s->v[path[n]].yes;

		if (!chosen(ctx, w->at, yes)) {
			free(path);
			return false;
		}
		wait_walk_take(w, yes);
		wait_walk_next(w);
	}
	if (s->v[i].kind == WAIT_WALK_ENDLESS)
		wait_walk_unpack(w, s->bytes.v + s->v[i].piece.at);
	free(path);
	return true;
}
