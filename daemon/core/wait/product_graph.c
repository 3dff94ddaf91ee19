/* Questions about all runs at once, asked of the edges between the places behind choices. */
#include <stdlib.h>
#include "product.h"

/* Edges by their far end: those to node i are edge[first[i]] to edge[first[i + 1]] - 1. */
struct back {
	size_t *first;
	uint32_t *edge;
};

static bool back_new(struct back *b, const struct nodes *s)
{
	b->first = calloc(s->n + 2, sizeof *b->first);
	b->edge = reallocarray(NULL, s->edges + 1, sizeof *b->edge);
	if (!b->first || !b->edge)
		return false;
	for (size_t i = 0; i < s->edges; i++)
		if (s->edge[i].to != PRODUCT_NONE)
			b->first[s->edge[i].to + 2]++;
	for (size_t i = 2; i < s->n + 2; i++)
		b->first[i] += b->first[i - 1];
	for (size_t i = 0; i < s->edges; i++)
		if (s->edge[i].to != PRODUCT_NONE)
			b->edge[b->first[s->edge[i].to + 1]++] = (uint32_t)i;
	return true;
}

static void back_free(struct back *b)
{
	free(b->first);
	free(b->edge);
}

/* Places from which every way ends are taken away, again and again; what stays goes round. */
int graph_loops(const struct nodes *s, const uint8_t *barred)
{
	struct back b = {0};
	uint32_t *ways = calloc(s->n + 1, sizeof *ways);
	uint32_t *ready = reallocarray(NULL, s->n + 1, sizeof *ready);
	size_t n = 0, away = 0;
	int rc = -1;

	if (!ways || !ready || !back_new(&b, s))
		goto out;
	for (size_t i = 0; i < s->edges; i++)
		if (s->edge[i].to != PRODUCT_NONE && !barred[s->edge[i].from])
			ways[s->edge[i].from]++;
	for (size_t i = 0; i < s->n; i++)
		if (!ways[i])
			ready[n++] = (uint32_t)i;
	while (away < n) {
		uint32_t node = ready[away++];

		for (size_t k = b.first[node]; k < b.first[node + 1]; k++) {
			uint32_t from = s->edge[b.edge[k]].from;

			if (ways[from] && !--ways[from])
				ready[n++] = from;
		}
	}
	rc = away < s->n;
out:
	back_free(&b);
	free(ways);
	free(ready);
	return rc;
}

uint8_t *graph_goes(const struct nodes *s, uint32_t all, bool ends)
{
	struct back b = {0};
	uint8_t *goes = calloc(s->n + 1, 1);
	uint32_t *todo = NULL;
	size_t n = 0;

	if (!goes || !back_new(&b, s))
		goto failed;
	/* each node comes once for each channel that it gains */
	todo = reallocarray(NULL, (s->n + 1) * (YOKE_CHANNELS_MAX + 1) + s->edges, sizeof *todo);
	if (!todo)
		goto failed;
	for (size_t i = 0; i < s->edges; i++) {
		const struct edge *e = &s->edge[i];
		uint32_t moved = ends && e->to == PRODUCT_NONE ? all : e->moved;
		uint8_t with = (uint8_t)((goes[e->from] | moved) & all);

		if (with == goes[e->from])
			continue;
		goes[e->from] = with;
		todo[n++] = e->from;
	}
	while (n) {
		uint32_t node = todo[--n];

		for (size_t k = b.first[node]; k < b.first[node + 1]; k++) {
			uint32_t from = s->edge[b.edge[k]].from;
			uint8_t with = goes[from] | goes[node];

			if (with == goes[from])
				continue;
			goes[from] = with;
			todo[n++] = from;
		}
	}
	back_free(&b);
	free(todo);
	return goes;

failed:
	back_free(&b);
	free(todo);
	free(goes);
	return NULL;
}
