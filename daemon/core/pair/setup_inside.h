/* What the files of the setup sheet share. */
#ifndef SETUP_INSIDE_H
#define SETUP_INSIDE_H

#include "pair_run.h"
#include "yoke/setup.h"

/* A channel on its way through its run. */
struct setup_way {
	const struct profile *profile;
	struct setup_channel *out;
	struct pair_run run;
	struct trace_step step; /* at hand */
	struct setup_place at;  /* of its block */
	bool assumed;           /* a condition was not known, and taken as false */

	/* setup_tool.c */
	struct setup_tool *tool;  /* at work; NULL before the first one, or when it is not kept */
	bool cut;                 /* it has cut since it came */
	bool told;                /* what it is for is known */
	struct modal_number next; /* named by T, waits for its M06 */
	struct setup_place next_at;
	char before[SETUP_TEXT_MAX]; /* the last comment since the last cut */

	/* setup_list.c */
	struct setup_stop *stopped; /* stands right before this line, and has no comment yet */
	char line_before[SETUP_TEXT_MAX]; /* comment of the line before, which held nothing else */

	/* setup_travel.c */
	struct setup_work *work; /* in force; NULL: not looked up yet, or not kept */
	bool in_contour;         /* between the first and the last block of a cycle's contour */
	struct modal contour;    /* state along it */
};

/* setup_tool.c: tools, their offsets, and what they are for; the block was executed. */
void setup_tool_block(struct setup_way *w);
/* The run is over: a tool that still waits for its M06 is counted. */
void setup_tool_end(struct setup_way *w);
/* A block's comment, made to fit; false when it has none that is about the work: the header and
 * the program's title are not. */
bool setup_tool_comment(const struct setup_way *w, char out[SETUP_TEXT_MAX]);

/* setup_travel.c: work offsets and travel; before: the block's state before it, of which only the
 * contour is used. */
struct setup_contour {
	int64_t first, last;
	bool inside;
};
void setup_travel_block(struct setup_way *w, const struct setup_contour *before);

/* setup_speed.c: speeds. */
void setup_speed_block(struct setup_way *w);

/* setup_list.c: codes, stops, skips. */
void setup_list_block(struct setup_way *w);

/* setup_number.c: program numbers of the text; calls. */
void setup_number_begin(struct setup_way *w);
void setup_number_block(struct setup_way *w);

/* One more of what is counted; the first one's place is kept. */
static inline void setup_count(uint64_t *n, struct setup_place *first, const struct setup_place *at)
{
	if ((*n)++ == 0)
		*first = *at;
}

#endif
