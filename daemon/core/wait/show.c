#include "show.h"

#include <stdlib.h>
#include <string.h>

/* Of a run: the first rungs and the last are kept. */
enum { RUNGS_FIRST = 200, RUNGS_LAST = 40 };

struct show {
	struct product *p;
	struct wait_result *out;
	size_t caps[YOKE_CHANNELS_MAX]; /* of the choices */
	uint64_t passed[YOKE_CHANNELS_MAX];
	uint64_t total, drawn;
	size_t channel; /* whose choice is noted */
};

static bool chosen(void *ctx, uint32_t at, bool yes)
{
	struct show *s = ctx;
	struct wait_run *run = &s->out->run[s->channel];
	size_t *cap = &s->caps[s->channel];

	if (run->choices == *cap) {
		size_t more = *cap ? *cap * 2 : 16;
		uint8_t *choice = realloc(run->choice, more);

		if (!choice)
			return false;
		run->choice = choice;
		*cap = more;
	}
	run->last = wait_flow_place(s->p->walk[s->channel].f, at);
	if (!run->choices)
		run->first = run->last;
	run->choice[run->choices++] = yes;
	return true;
}

/* The place for the next rung; NULL where it is left out. */
static struct wait_rung *room(struct show *s)
{
	uint64_t i = s->drawn++;
	struct wait_result *out = s->out;

	if (s->total > RUNGS_FIRST + RUNGS_LAST && i >= RUNGS_FIRST && i < s->total - RUNGS_LAST) {
		out->rung[RUNGS_FIRST - 1].repeat++;
		return NULL;
	}
	return &out->rung[out->rungs++];
}

/* gone: channels that went on in this step before, and are under way. */
static void draw(struct show *s, uint32_t goes, uint32_t gone, bool meets)
{
	struct wait_rung *r = room(s);

	for (size_t i = 0; i < s->p->n; i++) {
		const struct wait_walk *w = &s->p->walk[i];
		struct wait_stop stop = {.at_end = w->kind == WAIT_WALK_END,
		    .at_round = w->kind == WAIT_WALK_ROUND,
		    .takes_part = goes >> i & 1,
		    .code = gone >> i & 1 ? NULL : wait_walk_code(w),
		    .step = s->passed[i]};

		if (r)
			r->channel[i] = stop;
		if (!meets || !stop.takes_part)
			continue;
		s->passed[i]++;
		if (stop.code)
			s->p->visits[i][stop.code - w->f->code]++;
	}
	if (r)
		r->meets = meets;
}

static void draw_step(struct show *s)
{
	uint32_t gone = 0;

	for (size_t g = 0; g < s->p->groups; g++) {
		draw(s, s->p->group[g], gone, true);
		gone |= s->p->group[g];
	}
}

/* On to the next choice, or to the end of the run. */
static void follow(struct show *s, const struct outcome *o)
{
	struct product *p = s->p;
	uint32_t again = 0; /* channels that began again since the last rung */

	while (!p->open) {
		struct wait_signals before;
		uint64_t rungs = p->rungs;
		bool near = rungs + p->n > o->rungs;
		uint32_t set;

		if (near && rungs >= o->rungs && o->end != PRODUCT_GOOD && o->end != PRODUCT_FAILS)
			return;
		if (near)
			before = p->signals;
		set = product_meet(p);
		if (near && p->rungs > o->rungs) {
			p->signals = before;
			p->rungs = rungs;
			return;
		}
		/* who begins again and comes to no code never does */
		if (p->groups)
			again = 0;
		else if (!(set & ~again))
			return;
		else
			again |= set;
		draw_step(s);
		product_go(p, set);
	}
}

/* One of the ways of channel i leads to the first of these bytes: take that one. Returns how many
 * bytes it has; 0 without memory. */
static size_t choose(struct show *s, size_t i, const uint8_t *bytes, size_t most)
{
	struct product *p = s->p;
	struct ways *ways = &p->ways[i];
	uint64_t steps = 0;

	if (!ways_find(ways, &p->walk[i], &steps))
		return 0;
	for (uint32_t k = 0; k < ways->n; k++) {
		const struct way *v = &ways->v[k];

		if (v->kind == WAIT_WALK_BRANCH || v->piece.n > most ||
		    memcmp(bytes, ways->bytes.v + v->piece.at, v->piece.n) != 0)
			continue;
		s->channel = i;
		return ways_walk(ways, k, &p->walk[i], chosen, s) ? v->piece.n : 0;
	}
	return 0;
}

/* All channels over their conditions to a node. */
static bool part(struct show *s, const struct node *to)
{
	struct product *p = s->p;
	const uint8_t *bytes = p->nodes.bytes.v + to->piece.at, *end = bytes + to->piece.n;
	struct wait_bytes one = {0};
	bool ok = true;

	for (size_t i = 0; i < p->n && ok; i++) {
		size_t n;

		if (p->open >> i & 1) {
			n = choose(s, i, bytes, (size_t)(end - bytes));
			ok = n > 0;
		} else {
			one.n = 0;
			ok = wait_walk_pack(&p->walk[i], &one);
			n = one.n;
		}
		bytes += n;
	}
	p->open = 0;
	free(one.v);
	return ok;
}

/* The nodes on the way to this one, behind the beginning, first one first. NULL without memory. */
static uint32_t *path_to(const struct nodes *s, uint32_t node, size_t *n)
{
	uint32_t *path;
	size_t k = 0;

	for (uint32_t i = node; i != PRODUCT_NONE && s->v[i].piece.n; i = s->v[i].parent)
		k++;
	path = reallocarray(NULL, k + 1, sizeof *path);
	*n = k;
	for (uint32_t i = node; path && k; i = s->v[i].parent)
		path[--k] = i;
	return path;
}

static uint64_t left(const struct product *p)
{
	uint64_t n = 0;

	for (size_t i = 0; i < p->signals.n; i++)
		n += p->signals.v[i].count;
	return n;
}

bool show_run(
    struct product *p, const uint32_t *on, const struct outcome *o, struct wait_result *out)
{
	struct show s = {.p = p, .out = out, .total = o->rungs};
	size_t n, most = RUNGS_FIRST + RUNGS_LAST;
	uint32_t *path = path_to(&p->nodes, o->node, &n);
	uint32_t next = 0;
	bool ok = false;

	out->rung = calloc((o->rungs < most ? (size_t)o->rungs : most) + 1, sizeof *out->rung);
	if (!path || !out->rung)
		goto out;
	product_start(p, on);
	for (size_t i = 0; i < p->n; i++) {
		out->run[i].on = on[i];
		p->visits[i] = calloc(p->walk[i].f->codes + 1, sizeof *p->visits[i]);
		if (!p->visits[i])
			goto out;
	}
	for (size_t i = 0; i < n; i++) {
		follow(&s, o);
		if (p->nodes.v[path[i]].wide) {
			/* there are no choices that lead here for certain */
			product_restore(p, on, path[i]);
			continue;
		}
		if (!part(&s, &p->nodes.v[path[i]]))
			goto out;
	}
	follow(&s, o);
	out->meetings = o->rungs;
	out->rounds = o->rounds && o->end != PRODUCT_FAILS && o->end != PRODUCT_LOST;
	if (o->end == PRODUCT_GOOD)
		out->left = left(p);
	if (o->end == PRODUCT_ROUNDS)
		next = product_meet(p) && p->groups ? p->group[0] : 0;
	draw(&s, next, 0, o->tells < TELLS_ENDLESS);
	ok = true;
out:
	free(path);
	return ok;
}
