/* What a ladder shows, row by row, before anybody draws it: text and picture follow the same plan.
 */
#ifndef LADDER_PLAN_H
#define LADDER_PLAN_H

#include "pair_state.h"
#include "yoke/timeline.h"

enum ladder_kind {
	LADDER_RUNG,    /* a meeting or a signal */
	LADDER_OMITTED, /* rungs that are left out */
	LADDER_ENDED,   /* all have ended */
	LADDER_FAILED,  /* here channels stand for ever */
	LADDER_LOST,    /* cannot tell from here */
};

struct ladder_item {
	enum ladder_kind kind;
	uint64_t omitted;
	struct pair_rung rung; /* not of LADDER_OMITTED */
	/* what each channel of the machine did up to here, NULL where that is not known */
	const struct timeline_part *part[YOKE_CHANNELS_MAX];
	const struct timeline_rung *when; /* NULL without a timeline */
};

struct ladder_plan {
	struct ladder_item *item;
	size_t items;
};

/* Plan the ladder of a report; timeline may be NULL. It points into both. False without memory. */
bool ladder_plan_make(
    struct ladder_plan *plan, const struct pair_report *r, const struct timeline *timeline);
void ladder_plan_free(struct ladder_plan *plan);

/* The code at which the channels of a rung meet, "M203"; "" where none stands at one. */
const char *ladder_plan_code(const struct pair_rung *rung);

#endif
