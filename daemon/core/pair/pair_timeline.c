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

/* The texts behind a report, by index of the channel in its result. */
struct texts {
	struct wait_flow *flow[YOKE_CHANNELS_MAX];
	struct wait_timeline_text own[YOKE_CHANNELS_MAX];
	struct wait_timeline_text sister[YOKE_CHANNELS_MAX][WAIT_SISTERS_MAX];
	size_t sisters[YOKE_CHANNELS_MAX];
	size_t n;
};

static struct wait_timeline_text text_of(const struct program *p)
{
	return (struct wait_timeline_text){p->bytes, p->bytes_n, p->file};
}

/* False when the text of a program is not at hand. */
static bool gather(const struct pair_report *r, struct texts *t)
{
	for (uint32_t c = 0; c < r->profile->channels; c++) {
		const struct program *p = r->lane[c].program;

		if (!p)
			continue;
		if (!p->bytes)
			return false;
		t->flow[t->n] = p->flow;
		t->own[t->n] = text_of(p);
		t->sisters[t->n] = p->sisters;
		for (size_t i = 0; i < p->sisters; i++)
			t->sister[t->n][i] = text_of(p->sister[i]);
		t->n++;
	}
	return true;
}

struct timeline *timeline_new(const struct pair_report *r)
{
	struct timeline *t = calloc(1, sizeof(*t));
	struct texts texts = {.n = 0};
	struct wait_timeline w = {.profile = r->profile,
	    .number = r->of,
	    .flow = texts.flow,
	    .text = texts.own,
	    .sister = texts.sister,
	    .sisters = texts.sisters,
	    .result = &r->result};

	if (!t)
		return NULL;
	if (r->unreadable) {
		lost(r, t, "a program that cannot be read");
	} else if (!r->proved) {
		lost(r, t, "a mate is missing");
	} else if (!gather(r, &texts)) {
		lost(r, t, "the text of a program is not at hand");
	} else {
		w.n = texts.n;
		if (wait_timeline(&w, t) != 0) {
			free(t);
			return NULL;
		}
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
