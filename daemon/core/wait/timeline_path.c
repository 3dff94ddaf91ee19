/*
 * The longest ways through a run (the critical path of a network of activities). A rung is an
 * event: it comes when the last part before it is done, and when the signal that it needs was sent.
 * The run ends with its last rung, in which all channels have ended.
 */
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "timeline_inside.h"

/* Two ways are as long as each other when they differ by less: rounding of sums. */
#define SLACK_PART 1e-9

bool timeline_path_add(struct timeline_path *p, const struct timeline_node *node)
{
	if (p->over)
		return true;
	if (p->n == TIMELINE_NODES_MAX) {
		timeline_path_free(p);
		p->over = true;
		return true;
	}
	if (p->n == p->cap) {
		size_t cap = p->cap ? 2 * p->cap : 64;
		struct timeline_node *v = reallocarray(p->v, cap, sizeof(*v));

		if (!v)
			return false;
		p->v = v;
		p->cap = cap;
	}
	p->v[p->n++] = *node;
	return true;
}

/* When each rung comes, if the part of channel but before rung without took no time
 * (TIMELINE_NO_RUNG: as it is). start, unless NULL: when each part began. Returns the last. */
static double forward(const struct timeline_path *p, size_t without, int but, double *at,
    double (*start)[YOKE_CHANNELS_MAX])
{
	double clock[YOKE_CHANNELS_MAX] = {0};

	for (size_t r = 0; r < p->n; r++) {
		const struct timeline_node *n = &p->v[r];

		at[r] = n->after == TIMELINE_NO_RUNG ? 0 : at[n->after];
		for (int c = 0; c < YOKE_CHANNELS_MAX; c++) {
			double seconds = r == without && c == but ? 0 : n->seconds[c];

			if (!(n->goes >> c & 1))
				continue;
			if (start)
				start[r][c] = clock[c];
			at[r] = fmax(at[r], clock[c] + seconds);
		}
		for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
			if (n->goes >> c & 1)
				clock[c] = at[r];
	}
	return at[p->n - 1];
}

/* How long it takes from each rung to the end. */
static void backward(const struct timeline_path *p, double *tail)
{
	double next[YOKE_CHANNELS_MAX] = {0};

	memset(tail, 0, p->n * sizeof(*tail));
	for (size_t r = p->n; r-- > 0;) {
		const struct timeline_node *n = &p->v[r];

		for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
			if (n->goes >> c & 1)
				tail[r] = fmax(tail[r], next[c]);
		for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
			if (n->goes >> c & 1)
				next[c] = n->seconds[c] + tail[r];
		if (n->after != TIMELINE_NO_RUNG)
			tail[n->after] = fmax(tail[n->after], tail[r]);
	}
}

bool timeline_path_mark(const struct timeline_path *p, const int *index, struct timeline *t)
{
	double *at = calloc(p->n, sizeof(*at)), *tail = calloc(p->n, sizeof(*tail));
	double(*start)[YOKE_CHANNELS_MAX] = calloc(p->n, sizeof(*start));
	bool fine = at && tail && start;
	double whole;

	if (!fine || p->n == 0)
		goto out;
	whole = forward(p, TIMELINE_NO_RUNG, 0, at, start);
	backward(p, tail);
	for (size_t i = 0; i < t->parts; i++) {
		struct timeline_part *part = &t->part[i];
		size_t r = (size_t)part->last;
		int c = index[part->channel];
		double way = start[r][c] + p->v[r].seconds[c] + tail[r];

		part->critical = whole - way <= SLACK_PART * whole;
		part->gain_seconds = 0;
		if (part->critical)
			part->gain_seconds = whole - forward(p, r, c, at, NULL);
	}
out:
	free(start);
	free(tail);
	free(at);
	return fine;
}

void timeline_path_free(struct timeline_path *p)
{
	free(p->v);
	memset(p, 0, sizeof(*p));
}
