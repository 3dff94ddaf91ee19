/* What the files of restart points share. */
#ifndef RESTART_INSIDE_H
#define RESTART_INSIDE_H

#include "meet.h"
#include "pair_run.h"
#include "yoke/sheet.h"
#include "yoke/restart.h"

/* Blocks of the text, by their offsets: behind the one at low, up to the one at high. */
struct restart_range {
	uint64_t low, high;
};

/* Ranges that do not touch, in order. */
struct restart_ranges {
	struct restart_range *v;
	size_t n;
};

/* A channel on its way. */
struct restart_lane {
	int channel; /* of the machine */
	struct pair_run run;
	struct trace_step step;
	enum trace_kind stands;       /* STOP, END, ROUND or LOST */
	const struct wait_code *code; /* at which it stands */
	const char *why;
	struct restart_ranges loops, jumps; /* WHILE to END; backward jumps */

	/* in force beside the modal state */
	const struct profile_code *code_of_group[RESTART_CODES_MAX];
	size_t codes;
	bool variables, origin, modal_call;

	/* its part at hand: what it does up to its next stop */
	uint64_t part_first; /* segment in which it began */
	size_t places_first; /* index in the list of places */
	bool has_first;
	struct restart_place first, last; /* of its places in this part */
	const char *unfit;                /* why the first block that is none cannot be a place */
	char behind[RESTART_TEXT_MAX];
	/* By ask: it stands in this part; the last place at or before it. */
	bool asked_here[YOKE_CHANNELS_MAX], has_asked[YOKE_CHANNELS_MAX];
	struct restart_place asked[YOKE_CHANNELS_MAX];
};

/* restart_lane.c. All are false without memory. */
bool restart_lane_begin(
    struct restart_lane *l, const struct pair_report *r, int channel, const struct wait_run *run);
void restart_lane_end(struct restart_lane *l);
/* To its next stop; places go to out, and what was asked for is looked for. segment: in which the
 * part begins. */
bool restart_lane_advance(struct restart_lane *l, struct restart *out, uint64_t segment);
/* The part ends with this segment. */
void restart_lane_close(struct restart_lane *l, struct restart *out, uint64_t segment);

/* restart_state.c: what is in force beside the modal state, brought up to date behind a block. */
void restart_state_block(struct restart_lane *l, const struct profile *profile);
/* What is in force now. */
void restart_state_take(const struct restart_lane *l, struct restart_state *out);

/* restart_range.c: loops and backward jumps of a main program. False without memory. */
bool restart_range_loops(const struct wait_flow *f, struct restart_ranges *out);
bool restart_range_jumps(const struct wait_flow *f, struct restart_ranges *out);
bool restart_range_holds(const struct restart_ranges *r, uint64_t offset);

/* restart_words.c: a place and what must be in force as a table of the sheet. */
void restart_words_place(struct sheet *s, const struct restart *r, const struct restart_place *p);
/* "N30, line 12" */
enum { RESTART_WORDS = 128 };
const char *restart_words_at(char out[RESTART_WORDS], const struct setup_place *p);
/* "M203", or "MEET 7" of a wait that is written as a call. */
void restart_words_code(
    const struct profile *profile, const struct wait_code *code, char out[RESTART_TEXT_MAX]);

#endif
