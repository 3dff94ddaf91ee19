/* The places behind choices, each once, and those still to look at: fewest rungs first. */
#include <stdlib.h>
#include <string.h>
#include "product.h"

enum { NODES_MAX = 1 << 22, EDGES_MAX = 1 << 24, BYTES_MAX = 1 << 29 };

void nodes_clear(struct nodes *s)
{
	if (s->n)
		index_clear(&s->index);
	if (s->sites)
		memset(s->site, 0, s->site_slots * sizeof *s->site);
	s->n = s->heaped = s->edges = s->bytes.n = s->sites = 0;
}

void nodes_free(struct nodes *s)
{
	free(s->bytes.v);
	free(s->v);
	index_free(&s->index);
	free(s->heap);
	free(s->key);
	free(s->edge);
	free(s->site);
	memset(s, 0, sizeof *s);
}

static bool grow(struct nodes *s)
{
	if (s->n == s->cap) {
		size_t cap = s->cap ? s->cap * 2 : 32;
		struct node *v = reallocarray(s->v, cap, sizeof *v);

		if (!v)
			return false;
		s->v = v;
		s->cap = cap;
	}
	return index_room(&s->index, &s->bytes, s->v, sizeof *s->v, s->n);
}

static void sink(struct nodes *s, uint32_t node, uint64_t key)
{
	size_t i = 0, child;

	while ((child = 2 * i + 1) < s->heaped) {
		if (child + 1 < s->heaped && s->key[child + 1] < s->key[child])
			child++;
		if (s->key[child] >= key)
			break;
		s->heap[i] = s->heap[child];
		s->key[i] = s->key[child];
		i = child;
	}
	s->heap[i] = node;
	s->key[i] = key;
}

static bool push(struct nodes *s, uint32_t node, uint64_t key)
{
	size_t i = s->heaped;

	if (s->heaped == s->heap_cap) {
		size_t cap = s->heap_cap ? s->heap_cap * 2 : 32;
		uint32_t *heap = reallocarray(s->heap, cap, sizeof *heap);
		uint64_t *keys;

		if (!heap)
			return false;
		s->heap = heap;
		keys = reallocarray(s->key, cap, sizeof *keys);
		if (!keys)
			return false;
		s->key = keys;
		s->heap_cap = cap;
	}
	s->heaped++;
	for (; i && s->key[(i - 1) / 2] > key; i = (i - 1) / 2) {
		s->heap[i] = s->heap[(i - 1) / 2];
		s->key[i] = s->key[(i - 1) / 2];
	}
	s->heap[i] = node;
	s->key[i] = key;
	return true;
}

uint32_t nodes_next(struct nodes *s)
{
	while (s->heaped) {
		uint32_t node = s->heap[0];
		uint64_t key = s->key[0];

		s->heaped--;
		if (s->heaped)
			sink(s, s->heap[s->heaped], s->key[s->heaped]);
		if (s->v[node].done || s->v[node].rungs != key)
			continue;
		s->v[node].done = true;
		return node;
	}
	return PRODUCT_NONE;
}

uint32_t nodes_add(struct nodes *s, size_t at, const struct node *as, bool *failed)
{
	uint32_t *slot;
	struct node *v;

	if (!grow(s))
		goto no_memory;
	slot = index_slot(&s->index, &s->bytes, s->v, sizeof *s->v, at);
	if (*slot) {
		v = &s->v[*slot - 1];
		s->bytes.n = at;
		if ((v->wide && !as->wide) ||
		    (v->wide == as->wide && !v->done && as->rungs < v->rungs)) {
			v->parent = as->parent;
			v->rungs = as->rungs;
			v->wide = as->wide;
			v->done = false;
			memcpy(v->steps, as->steps, sizeof v->steps);
			if (!push(s, (uint32_t)(v - s->v), v->rungs))
				goto no_memory;
		}
		return (uint32_t)(v - s->v);
	}
	if (s->n == NODES_MAX || s->bytes.n > BYTES_MAX)
		return PRODUCT_NONE;
	if (!push(s, (uint32_t)s->n, as->rungs))
		goto no_memory;
	v = &s->v[s->n];
	*v = *as;
	v->piece = (struct piece){at, s->bytes.n - at};
	v->done = false;
	*slot = (uint32_t)++s->n;
	return (uint32_t)s->n - 1;

no_memory:
	*failed = true;
	return PRODUCT_NONE;
}

static size_t site_at(const struct node_site *site, size_t slots, uint64_t hash)
{
	size_t h = hash & (slots - 1);

	while (site[h].first && site[h].hash != hash)
		h = (h + 1) & (slots - 1);
	return h;
}

struct node_site *nodes_site(struct nodes *s, uint64_t hash)
{
	size_t slots = s->site_slots ? s->site_slots * 2 : 64;
	struct node_site *site, *found;

	if (s->sites * 2 >= s->site_slots) {
		site = calloc(slots, sizeof *site);
		if (!site)
			return NULL;
		for (size_t i = 0; i < s->site_slots; i++)
			if (s->site[i].first)
				site[site_at(site, slots, s->site[i].hash)] = s->site[i];
		free(s->site);
		s->site = site;
		s->site_slots = slots;
	}
	found = &s->site[site_at(s->site, s->site_slots, hash)];
	if (!found->first)
		s->sites++;
	found->hash = hash;
	return found;
}

bool nodes_edge(struct nodes *s, const struct edge *edge, bool *failed)
{
	if (s->edges == EDGES_MAX)
		return false;
	if (s->edges == s->edge_cap) {
		size_t cap = s->edge_cap ? s->edge_cap * 2 : 64;
		struct edge *v = reallocarray(s->edge, cap, sizeof *v);

		if (!v) {
			*failed = true;
			return false;
		}
		s->edge = v;
		s->edge_cap = cap;
	}
	s->edge[s->edges++] = *edge;
	return true;
}
