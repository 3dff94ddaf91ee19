/* The timeline of a report: its programs' text, run once more. */
#include <stdlib.h>
#include <string.h>
#include "pair_state.h"
#include "timeline.h"
#include "yoke/timeline.h"

/* Nothing was followed. */
static void lost(const struct pair_report *r, struct timeline *t, const char *why)
{
	t->end = TIMELINE_LOST;
	t->why = why;
	t->channels = r->profile->channels;
	for (size_t c = 0; c < t->channels; c++) {
		t->channel[c].name = lane_name(r, (int)c);
		t->channel[c].present = r->lane[c].program != NULL;
	}
}

struct timeline *timeline_new(const struct pair_report *r)
{
	struct timeline *t = calloc(1, sizeof(*t));
	struct wait_flow *flow[YOKE_CHANNELS_MAX];
	const void *bytes[YOKE_CHANNELS_MAX];
	size_t size[YOKE_CHANNELS_MAX];
	struct wait_timeline w = {.profile = r->profile,
	    .number = r->of,
	    .flow = flow,
	    .bytes = bytes,
	    .size = size,
	    .result = &r->result};

	if (!t)
		return NULL;
	if (!r->proved || r->unreadable) {
		lost(r, t, r->unreadable ? "a program that cannot be read" : "a mate is missing");
		return t;
	}
	for (uint32_t c = 0; c < r->profile->channels; c++) {
		const struct program *p = r->lane[c].program;

		if (!p)
			continue;
		if (!p->bytes) {
			lost(r, t, "the text of a program is not at hand");
			return t;
		}
		flow[w.n] = p->flow;
		bytes[w.n] = p->bytes;
		size[w.n++] = p->bytes_n;
	}
	if (wait_timeline(&w, t) != 0) {
		free(t);
		return NULL;
	}
	return t;
}

void timeline_free(struct timeline *t)
{
	if (!t)
		return;
	wait_timeline_free(t);
	free(t);
}
