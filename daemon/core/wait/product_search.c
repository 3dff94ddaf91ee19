/*
 * Places are looked at in the order of the rungs passed, so the shortest run of each kind is found.
 * Between two conditions on unknown data there is but one run, and nothing of it is kept.
 */
#include "product_search.h"

#include <stdlib.h>
#include <string.h>
#include "hash.h"

/* Places in which all channels stand at the same codes, before what differs in them is forgotten:
 * a loop around a wait code that counts, and that unknown data ends, would never end. */
enum { NODES_EXACT = 32 };

static void fail(struct product *p)
{
	p->failed = true;
}

static bool pack_signals(struct product *p)
{
	struct wait_bytes *b = &p->nodes.bytes;

	return wait_bytes_add(b, &p->signals.n, sizeof p->signals.n) &&
	       wait_bytes_add(b, p->signals.v, p->signals.n * sizeof p->signals.v[0]);
}

/* The places of all channels, behind the nodes' bytes; those in p->open stand at this way of
 * theirs. The others of the ways stand there then. */
static bool pack(struct product *p, const uint32_t *way)
{
	struct wait_bytes *b = &p->nodes.bytes;

	for (size_t i = 0; i < p->n; i++) {
		struct ways *s = &p->ways[i];

		if (p->open >> i & 1) {
			const struct way *v = &s->v[way[i]];

			if (!wait_bytes_add(b, s->bytes.v + v->piece.at, v->piece.n))
				return false;
			wait_walk_unpack(&s->other, s->bytes.v + v->piece.at);
		} else {
			if (!wait_walk_pack(&p->walk[i], b))
				return false;
			wait_walk_assign(&s->other, &p->walk[i]);
		}
	}
	return pack_signals(p);
}

void product_restore(struct product *p, const uint32_t *on, uint32_t node)
{
	const struct node *v = &p->nodes.v[node];
	const uint8_t *bytes = p->nodes.bytes.v + v->piece.at;

	if (!v->piece.n) {
		product_start(p, on);
		return;
	}
	p->open = 0;
	p->rungs = v->rungs;
	for (size_t i = 0; i < p->n; i++) {
		p->walk[i].on = on[i];
		bytes += wait_walk_unpack(&p->walk[i], bytes);
		p->walk[i].steps = v->steps[i];
	}
	memcpy(&p->signals.n, bytes, sizeof p->signals.n);
	memcpy(p->signals.v, bytes + sizeof p->signals.n, p->signals.n * sizeof p->signals.v[0]);
	p->signals.full = false;
}

static enum telling tells(const struct product *p, enum product_end end, bool rounds)
{
	if (end == PRODUCT_FAILS)
		return TELLS_FAILED;
	if (end == PRODUCT_LOST)
		return TELLS_LOST;
	for (size_t i = 0; i < p->n; i++)
		if (p->walk[i].kind == WAIT_WALK_ENDLESS)
			return TELLS_ENDLESS;
	return rounds || (end == PRODUCT_GOOD && p->signals.n) ? TELLS_LEFT : TELLS_GOOD;
}

/* A run has ended behind node. One that may not be possible proves nothing but that there may be
 * one. */
static void ended(struct search *s, const struct product *p, enum product_end end, uint32_t node)
{
	struct outcome o = {.end = end, .node = node, .rungs = p->rungs};

	o.wide = node != PRODUCT_NONE && p->nodes.v[node].wide;
	if (o.wide && end == PRODUCT_FAILS)
		o.end = end = PRODUCT_LOST;
	for (size_t i = 0; i < p->n; i++)
		o.rounds |= p->walk[i].round;
	o.tells = tells(p, end, o.rounds);
	s->fails |= end == PRODUCT_FAILS;
	s->lost |= end == PRODUCT_LOST;
	s->good |= end == PRODUCT_GOOD || end == PRODUCT_ROUNDS;
	if (o.wide && o.tells < TELLS_LOST)
		return;
	if (s->shown.tells == TELLS_NOTHING || o.rungs < s->fewest)
		s->fewest = o.rungs;
	if (o.tells > s->shown.tells || (o.tells == s->shown.tells && o.rungs < s->shown.rungs))
		s->shown = o;
}

/* The next way of channels in set, all ways of the last one first; false when all were taken. */
static bool next_ways(const struct product *p, uint32_t set, uint32_t *way)
{
	for (size_t i = p->n; i--;) {
		const struct ways *s = &p->ways[i];

		if (!(set >> i & 1))
			continue;
		do
			way[i]++;
		while (way[i] < s->n && s->v[way[i]].kind == WAIT_WALK_BRANCH);
		if (way[i] < s->n)
			return true;
		way[i] = 0;
		while (s->v[way[i]].kind == WAIT_WALK_BRANCH)
			way[i]++;
	}
	return false;
}

/* The others of the ways stand where a new node would. Where there are many such nodes already, it
 * holds only what it has in common with the first. Returns whether it forgot something. */
static bool widen(struct product *p, const struct node_site *site)
{
	const uint8_t *bytes;

	if (site->n < NODES_EXACT)
		return false;
	bytes = p->nodes.bytes.v + p->nodes.v[site->first - 1].piece.at;
	for (size_t i = 0; i < p->n; i++) {
		bytes += wait_walk_unpack(&p->mark[i], bytes);
		if (!wait_walk_widen(&p->ways[i].other, &p->mark[i]))
			return false;
	}
	return true;
}

static struct node_site *site_of(struct product *p)
{
	uint64_t hash = 0;

	for (size_t i = 0; i < p->n; i++) {
		const struct wait_walk *w = &p->ways[i].other;
		uint32_t place[] = {w->unit, w->next, w->at, w->depth, w->kind, (uint32_t)i};

		hash = hash * 31 + hash_bytes((const uint8_t *)place, sizeof place);
	}
	return nodes_site(&p->nodes, hash);
}

/* The bytes from at on, of a place like many others. False without memory. */
static bool pack_again(struct product *p, size_t at)
{
	p->nodes.bytes.n = at;
	for (size_t i = 0; i < p->n; i++)
		if (!wait_walk_pack(&p->ways[i].other, &p->nodes.bytes))
			return false;
	return pack_signals(p);
}

/* One way of all channels together: a place to look at, if it is new. */
static void add_node(
    struct product *p, struct search *s, uint32_t from, uint32_t moved, const uint32_t *way)
{
	struct node as = {.parent = from, .rungs = p->rungs, .wide = p->nodes.v[from].wide};
	size_t at = p->nodes.bytes.n, n = p->nodes.n;
	struct node_site *site;
	uint32_t to;

	for (size_t i = 0; i < p->n; i++) {
		const struct way *v = p->open >> i & 1 ? &p->ways[i].v[way[i]] : NULL;

		as.steps[i] = v ? v->steps : p->walk[i].steps;
		as.wide |= v && v->wide;
	}
	p->steps++;
	if (!pack(p, way) || !(site = site_of(p)))
		goto failed;
	if (widen(p, site)) {
		as.wide = true;
		if (!pack_again(p, at))
			goto failed;
	}
	to = nodes_add(&p->nodes, at, &as, &p->failed);
	if (to == PRODUCT_NONE ||
	    !nodes_edge(&p->nodes, &(struct edge){from, to, moved}, &p->failed)) {
		s->cut = true;
		return;
	}
	if (p->nodes.n > n && site->n++ == 0)
		site->first = to + 1;
	return;

failed:
	fail(p);
}

/* Some channels stand at conditions on unknown data: all that may come of it. */
static void part(struct product *p, struct search *s, uint32_t from, uint32_t moved)
{
	uint32_t way[YOKE_CHANNELS_MAX] = {0};

	s->branches = true;
	for (size_t i = 0; i < p->n; i++) {
		if (!(p->open >> i & 1))
			continue;
		if (!ways_find(&p->ways[i], &p->walk[i], &p->steps)) {
			fail(p);
			return;
		}
		while (p->ways[i].v[way[i]].kind == WAIT_WALK_BRANCH)
			way[i]++;
	}
	do
		add_node(p, s, from, moved, way);
	while (!p->failed && !s->cut && p->steps <= p->budget && next_ways(p, p->open, way));
}

/* From where the channels stand to the next choice, or to the end. */
static void follow(struct product *p, struct search *s, uint32_t node)
{
	uint32_t moved, from = node;
	enum product_end end = product_run(p, &moved);

	if (end != PRODUCT_GOES) {
		ended(s, p, end, node);
		if (end != PRODUCT_FAILS)
			moved = (1u << p->n) - 1;
		if (node != PRODUCT_NONE &&
		    !nodes_edge(&p->nodes, &(struct edge){node, PRODUCT_NONE, moved}, &p->failed))
			s->cut = true;
		return;
	}
	if (node == PRODUCT_NONE) {
		/* the beginning has no bytes: nothing leads back to it */
		struct node first = {.parent = PRODUCT_NONE};

		from = nodes_add(&p->nodes, p->nodes.bytes.n, &first, &p->failed);
		if (from == PRODUCT_NONE)
			return;
		p->nodes.v[from].done = true;
	}
	part(p, s, from, moved);
}

/* Nodes where a channel stands that never goes on again are barred: runs that go on for ever there
 * are no good ones. Where they all do, that channel stands for ever, and no end says so. */
static void starved(struct product *p, struct search *s, const uint32_t *on, uint8_t *barred)
{
	uint32_t all = (1u << p->n) - 1;
	uint8_t *goes = graph_goes(&p->nodes, all, false);
	uint8_t *to_end = graph_goes(&p->nodes, all, true);

	if (!goes || !to_end)
		fail(p);
	for (uint32_t k = 1; !p->failed && k < p->nodes.n; k++) {
		if (goes[k] == all)
			continue;
		product_restore(p, on, k);
		for (size_t i = 0; i < p->n && !barred[k]; i++)
			barred[k] = !(goes[k] >> i & 1) && wait_walk_code(&p->walk[i]);
		if (barred[k] && to_end[k] != all)
			ended(s, p, PRODUCT_FAILS, k);
	}
	free(goes);
	free(to_end);
}

/* Runs that never come to an end are good: no node of them says so itself. */
static void endless_runs(struct product *p, struct search *s, const uint32_t *on)
{
	uint8_t *barred;
	int loops = 0;

	if (p->failed || s->cut || !p->nodes.n)
		return;
	barred = calloc(p->nodes.n, 1);
	if (!barred) {
		fail(p);
		return;
	}
	starved(p, s, on, barred);
	if (!p->failed)
		loops = graph_loops(&p->nodes, barred);
	free(barred);
	if (loops < 0)
		fail(p);
	if (loops <= 0)
		return;
	s->good = true;
	if (s->shown.tells == TELLS_NOTHING) {
		product_restore(p, on, (uint32_t)p->nodes.n - 1);
		ended(s, p, PRODUCT_ROUNDS, (uint32_t)p->nodes.n - 1);
	}
}

void product_search(struct product *p, const uint32_t *on, struct search *out)
{
	uint32_t node = PRODUCT_NONE;

	memset(out, 0, sizeof *out);
	nodes_clear(&p->nodes);
	product_start(p, on);
	follow(p, out, PRODUCT_NONE);
	while (!p->failed && !out->cut && (node = nodes_next(&p->nodes)) != PRODUCT_NONE) {
		if (p->steps > p->budget) {
			out->cut = true;
			break;
		}
		product_restore(p, on, node);
		follow(p, out, node);
	}
	out->cut |= p->steps > p->budget;
	endless_runs(p, out, on);
	out->lost |= out->cut;
	if (out->cut && out->shown.tells < TELLS_LOST)
		out->shown = (struct outcome){.tells = TELLS_LOST,
		    .end = PRODUCT_LOST,
		    .node = node,
		    .rungs = p->rungs,
		    .cut = true};
}
