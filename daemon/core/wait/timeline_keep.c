/* The first and the last rungs of a run with the parts before them; the middle is summed. */
#include <stdlib.h>
#include <string.h>
#include "timeline_inside.h"

bool timeline_keep_add(
    struct timeline_keep *k, const struct timeline_kept *rung, struct timeline *out)
{
	size_t at = (size_t)k->seen;

	if (!k->v) {
		k->v = calloc(TIMELINE_FIRST + TIMELINE_LAST, sizeof(*k->v));
		if (!k->v)
			return false;
	}
	if (k->n == TIMELINE_FIRST + TIMELINE_LAST) {
		const struct timeline_kept *old;

		at = TIMELINE_FIRST + (size_t)((k->seen - TIMELINE_FIRST) % TIMELINE_LAST);
		old = &k->v[at];
		for (size_t i = 0; i < old->parts; i++)
			timeline_part_sum(&out->between[old->part[i].channel], &old->part[i].work);
	} else {
		k->n++;
	}
	k->v[at] = *rung;
	k->seen++;
	return true;
}

/* Where the i-th kept rung lies. */
static size_t place(const struct timeline_keep *k, size_t i)
{
	if (i < TIMELINE_FIRST || k->n < TIMELINE_FIRST + TIMELINE_LAST)
		return i;
	return TIMELINE_FIRST +
	       (size_t)((k->seen - TIMELINE_FIRST + (i - TIMELINE_FIRST)) % TIMELINE_LAST);
}

bool timeline_keep_finish(const struct timeline_keep *k, struct timeline *out)
{
	if (k->n == 0)
		return true;
	out->rung = calloc(k->n, sizeof(*out->rung));
	out->part = calloc(k->n * YOKE_CHANNELS_MAX, sizeof(*out->part));
	if (!out->rung || !out->part)
		return false;
	for (size_t i = 0; i < k->n; i++) {
		const struct timeline_kept *kept = &k->v[place(k, i)];

		out->rung[out->rungs++] = kept->rung;
		for (size_t c = 0; c < kept->parts; c++)
			out->part[out->parts++] = kept->part[c];
	}
	if (k->seen > k->n)
		out->rung[TIMELINE_FIRST - 1].repeat = k->seen - k->n;
	return true;
}

void timeline_keep_free(struct timeline_keep *k)
{
	free(k->v);
	memset(k, 0, sizeof(*k));
}
