/*
 * Wait codes as executed: each channel's flow, followed, and the flows compared.
 *
 * A flow is an automaton whose letters are wait codes: subprograms with repeats, loops and jumps
 * whose conditions can be computed are run exactly; conditions on unknown data branch both ways.
 * The product of the channels is searched under every setting of the block-skip switches in use.
 * For straight channels the check is the CSP law (c->P)||(d->Q) = STOP for c != d (Hoare,
 * Communicating Sequential Processes, 2.2): equal sequences or a deadlock at the first difference.
 */
#ifndef WAIT_H
#define WAIT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "nc.h"
#include "yoke/pair.h"
#include "yoke/profile.h"

enum { WAIT_SISTERS_MAX = 16 };

struct wait_place {
	uint64_t line;
	uint32_t col;
	int64_t sequence; /* N number of the block, -1 without */
	uint32_t file;    /* 0: the program's own; else a sister, in the order in which they were
	                     given,    from 1 */
};

/* Why a run cannot be followed where a code names no channel but its own. */
#define WAIT_NAMED_ALONE "the wait code names no other channel than its own"

enum wait_code_kind { WAIT_CODE_MEET, WAIT_CODE_SEND, WAIT_CODE_RECEIVE };

/* One wait code in the text. */
struct wait_code {
	uint32_t code;     /* 203 for M203; of a call MEET(7,..): 7 */
	uint8_t kind;      /* wait_code_kind */
	bool call;         /* written as a call */
	uint8_t skip;      /* skip level of its block, 0 none */
	uint32_t partners; /* machine channels named with it, bit 0 for the first; 0: none named */
	struct wait_place at;
};

struct wait_flow;

struct wait_flow *wait_flow_new(const struct profile *profile);
/* Take one block. 0, -1 without memory. */
int wait_flow_block(struct wait_flow *f, const struct nc_block *b);
/*
 * Blocks that hold nothing but sequence numbers and plain words that cannot matter to the flow:
 * count of them with N first, first + step, .. (first -1: none of them has one), last_line: of the
 * last. As if each had been given to wait_flow_block. 0, -1 without memory.
 */
int wait_flow_plain(
    struct wait_flow *f, int64_t first, uint32_t step, uint64_t count, uint64_t last_line);
/* True once a block that moves (X Y Z U V W) matters: it must come by wait_flow_block then. */
bool wait_flow_whole(const struct wait_flow *f);
/* Programs that this one may call, from a sister's file: a finished flow, which must outlive this
 * one. Before the end; at most WAIT_SISTERS_MAX. 0, -1 when there are too many. */
int wait_flow_sister(struct wait_flow *f, const struct wait_flow *sister);
/*
 * The end: resolves calls and labels, and must come before any question below. Adds findings about
 * flow to list, under file and channel. Text before the first program number belongs to the first
 * program, which is the main program; text after a second % is not executed. What cannot change
 * which wait codes are met is no finding. library: the file holds subprograms only, none of them a
 * main program; all of them may be called, and what they call may be in the file of the caller. 0,
 * -1 without memory.
 */
int wait_flow_finish(
    struct wait_flow *f, struct findings *list, const char *file, int channel, bool library);
void wait_flow_free(struct wait_flow *f);

/* Skip levels that stand before any block that matters to the flow, as a bit set: bit 1 for / and
 * /1 .. bit 9. */
uint32_t wait_flow_skips(const struct wait_flow *f);

/* How many wait codes stand in the text (sisters' apart), and the i-th. */
size_t wait_flow_codes(const struct wait_flow *f);
const struct wait_code *wait_flow_code(const struct wait_flow *f, size_t i);

/*
 * Whether a control can execute the program while it reads it: nothing in it leads back, or to what
 * was not read yet. waits: it does wait codes then; without, none may stand in the text. What cannot
 * be followed is no yes. False with the first place and the reason appended to why. After the end.
 */
bool wait_flow_drips(const struct wait_flow *f, bool waits, struct text *why);

/* Where a run stands in one channel. With neither end, round nor code it was not followed. */
struct wait_stop {
	bool at_end;                  /* the channel has ended */
	bool at_round;                /* its program begins again */
	bool takes_part;              /* it goes on from this rung */
	const struct wait_code *code; /* the code at which it waits, or NULL; belongs to the flow */
	uint64_t step;                /* how many wait codes this channel passed before */
};

struct wait_rung {
	struct wait_stop channel[YOKE_CHANNELS_MAX];
	bool meets;      /* a meeting, a signal, or all have ended; false: here it fails */
	uint64_t repeat; /* how many further rungs were left out after this one */
};

/* One channel's part of a run: with it the run can be walked again. */
struct wait_run {
	uint32_t on; /* skip switches that are on, bit set as above */
	uint8_t
	    *choice; /* of each condition on unknown data that it met, in order: 1 true, 0 false */
	size_t choices;
	/* the first and the last of those conditions, for words; line 0: none */
	struct wait_place first, last;
};

struct wait_result {
	enum verdict verdict;
	uint64_t settings; /* how many switch settings were examined */
	uint64_t states;   /* how many states of the product were visited */
	uint64_t meetings; /* rungs passed in the run shown */
	uint64_t fewest;   /* rungs passed in the run that passes the fewest */
	bool branches;     /* runs depend on unknown data: the run shown is one of several */
	bool rounds;       /* the programs begin again at different rungs, and go on without a
	                      failure */
	uint64_t left;     /* signals that nobody used up in the run shown */
	struct wait_run run[YOKE_CHANNELS_MAX]; /* the run shown */
	size_t rungs; /* rungs kept: the first and the last of the run, the failing or ending one
	                 last */
	struct wait_rung *rung;
	/*
	 * Where a run fails: the likeliest repair and where, in both programs:
	 * FINDING_WAIT_MISSING, _DOUBLED, _SWAPPED, _DIFFERS, _SKIPPED, _AFTER_END, _BRANCH,
	 * _REPEATS, _PARTNERS, or FINDING_END_DIFFERS. When it cannot be told for another reason:
	 * why, and where in channel_a: FINDING_FLOW_UNFOLLOWED, _LOOP_ENDLESS, _RUN_LONG or
	 * _SKIP_MANY (line 0 where there is no single place). Otherwise FINDING_COUNT.
	 */
	enum finding_id repair;
	const char *why;          /* of FINDING_FLOW_UNFOLLOWED, and may be of FINDING_RUN_LONG:
	                             static text */
	int channel_a, channel_b; /* a: where the repair belongs; b: its mate */
	/* with code 0: of the program's end; line 0: it runs out without one */
	struct wait_place place_a, place_b;
	uint32_t code_a, code_b;   /* codes concerned, 0 none */
	uint64_t times_a, times_b; /* of _REPEATS: how often each meets it */
};

/* Settings of the skip switches that are examined at most. */
enum { WAIT_SETTINGS_MAX = 1 << 18 };

/*
 * Compare the flows of n channels; channel i is channel number[i] of the machine, from 0.
 *
 * agree: no reachable state in which a channel waits for ever. disagree: under some setting of the
 * switches every run ends in such a state, whatever the data. cannot tell: only some runs do, or a
 * run cannot be followed. The shortest failing run is shown, with the fewest switches on; a run
 * that fails wins over one that could not be followed. flow must outlive the result. n is 1 to
 * YOKE_CHANNELS_MAX. 0, -1 without memory.
 */
int wait_prove(const struct profile *profile, struct wait_flow *const *flow, const int *number,
    size_t n, struct wait_result *out);
void wait_result_free(struct wait_result *r);

#endif
