#include "ladder_plan.h"

#include <stdlib.h>

enum {
	SHOW_ALL = 16, /* so many rungs are drawn without leaving any out */
	SHOW_FIRST = 4,
	SHOW_LAST = 8,
};

static enum ladder_kind kind(const struct pair_rung *rung)
{
	switch (rung->kind) {
	case PAIR_RUNG_MEETING:
	case PAIR_RUNG_SIGNAL:
		return LADDER_RUNG;
	case PAIR_RUNG_ENDED:
		return LADDER_ENDED;
	case PAIR_RUNG_FAILED:
		return LADDER_FAILED;
	case PAIR_RUNG_LOST:
		break;
	}
	return LADDER_LOST;
}

static const struct timeline_part *part_before(
    const struct timeline *t, const struct pair_rung *rung, int channel)
{
	for (size_t i = 0; t && i < t->parts; i++) {
		const struct timeline_part *p = &t->part[i];
		bool here = rung->kind == PAIR_RUNG_ENDED ? p->to_end : p->last == rung->number;

		if (p->channel == channel && here)
			return p;
	}
	return NULL;
}

/* The rung and what led to it. */
static void fill(struct ladder_item *item, const struct timeline *t)
{
	item->kind = kind(&item->rung);
	for (int c = 0; c < YOKE_CHANNELS_MAX; c++) {
		const struct pair_stop *stop = &item->rung.channel[c];

		if (stop->present && (stop->goes || item->kind != LADDER_RUNG))
			item->part[c] = part_before(t, &item->rung, c);
	}
	for (size_t i = 0; t && i < t->rungs && !item->when; i++)
		if (t->rung[i].number == item->rung.number)
			item->when = &t->rung[i];
}

bool ladder_plan_make(
    struct ladder_plan *plan, const struct pair_report *r, const struct timeline *timeline)
{
	size_t n = pair_rungs(r), last = n ? n - 1 : 0;
	uint64_t omitted = 0;

	plan->items = 0;
	/* each rung, what is left out behind it, and one for a report without any */
	plan->item = calloc(2 * n + 1, sizeof(*plan->item));
	if (!plan->item)
		return false;
	for (size_t i = 0; i < n; i++) {
		struct ladder_item *item = &plan->item[plan->items];

		pair_rung(r, i, &item->rung);
		if (last > SHOW_ALL && i >= SHOW_FIRST && i + SHOW_LAST < last) {
			omitted += 1 + item->rung.repeat;
			item->rung = (struct pair_rung){0};
			continue;
		}
		if (omitted) {
			item[1].rung = item[0].rung;
			*item = (struct ladder_item){.kind = LADDER_OMITTED, .omitted = omitted};
			item++;
			plan->items++;
		}
		fill(item, timeline);
		plan->items++;
		omitted = item->rung.repeat;
	}
	if (n == 0)
		plan->item[plan->items++].kind = LADDER_LOST;
	return true;
}

void ladder_plan_free(struct ladder_plan *plan)
{
	free(plan->item);
	plan->item = NULL;
	plan->items = 0;
}

const char *ladder_plan_code(const struct pair_rung *rung)
{
	for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
		if (rung->channel[c].goes && rung->channel[c].code[0])
			return rung->channel[c].code;
	return "";
}
