/*
 * Where a pair can be picked up in the middle: places at which all channels have passed the same
 * meetings, and what must be in force in each channel before its block. Computed from the run that
 * the check shows; the control knows nothing of it.
 */
#ifndef YOKE_RESTART_H
#define YOKE_RESTART_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/limits.h"
#include "yoke/pair.h"
#include "yoke/setup.h"
#include "yoke/text.h"

enum {
	RESTART_PLACES_MAX = 4096,   /* kept; further ones are counted */
	RESTART_SEGMENTS_MAX = 2048, /* the same */
	RESTART_CODES_MAX = 16,
	RESTART_TEXT_MAX = 64,
};

/* A word that is in force. */
struct restart_word {
	bool programmed; /* false: never programmed up to here, as the control stands */
	bool known;      /* its value */
	double v;        /* as it was written */
};

/* Where an axis stands: mm, X as a radius, or degrees. */
struct restart_axis {
	bool known;
	bool shifted; /* the tool or its offset has changed since */
	double v;
};

/*
 * What must be in force before a block. G codes in tenths (540 for G54, 541 for G54.1): -1 none of
 * its group was programmed, -2 it is not known which.
 */
struct restart_state {
	bool turret;                                       /* T names tool and offset */
	bool diameter;                                     /* X is programmed as a diameter */
	struct restart_word tool, tool_next, offset, h, d; /* tool_next: T that waits for M06 */
	int work_offset, length_offset;
	struct restart_word work_offset_p; /* of G54.1 */
	int plane, units, distance, motion, compensation;
	int feed_mode; /* 930, 940, 950; 980 and 990 where these are written so */
	struct restart_word feed;
	int speed_mode;                   /* 960, 970 */
	struct restart_word speed, clamp; /* clamp: 1/min */
	int spindle;                      /* 3, 4, 5; -1, -2 */
	int mist, flood;                  /* 1 on, 0 off; -1, -2 */
	struct restart_axis axis[SETUP_AXES];
	/* The last code of each group of the machine's table. */
	struct restart_code {
		uint32_t code;
		const char *group, *text; /* belong to the profile */
	} code[RESTART_CODES_MAX];
	size_t codes;
	bool variables; /* variables were set before */
	bool origin; /* a position was set or shifted, or offsets were written (G92, G50, G52, G10)
	              */
};

enum restart_kind {
	RESTART_START, /* the beginning of the program */
	RESTART_RUNG,  /* the first block behind a meeting that can be one */
	RESTART_TOOL,  /* a tool change */
};

/* One block at which a channel can be picked up. */
struct restart_place {
	enum restart_kind kind;
	int channel;
	struct setup_place at;
	uint64_t first, last; /* segments that it belongs to: more than one only where meetings are
	                         of other channels */
	char behind[RESTART_TEXT_MAX];  /* the channel's last wait code: "M203"; "" none yet */
	char comment[RESTART_TEXT_MAX]; /* in its block, as it stands in the text */
	bool repeats; /* the block is executed several times: variables say which time it is */
	struct restart_state state;
};

/* Everything between two rungs of the run: segment k lies behind k rungs. */
struct restart_segment {
	uint64_t number;
	char behind[RESTART_TEXT_MAX]; /* the rung that it begins behind: "M203"; "" the start */
	bool signals; /* a signal was sent and not used up: a control that was searched to here does
	                 not have it */
	/* By channel: why its first block that is none cannot be a place; static text, or NULL. */
	const char *unfit[YOKE_CHANNELS_MAX];
	bool has[YOKE_CHANNELS_MAX]; /* the channel has a place here */
};

/* A block that a person names. */
struct restart_ask {
	int channel; /* of the machine */
	bool line;   /* value is a line, else an N number */
	uint64_t value;
};

struct restart_near {
	struct restart_ask ask;
	bool found; /* it is executed; below: the first time */
	struct setup_place at;
	uint64_t times;       /* how often it is executed */
	bool elsewhere;       /* the same N stands in another line too */
	uint64_t first, last; /* its segments */
	const char *unfit; /* why it cannot be a start block; static text, NULL when nothing speaks
	                      against it */
	/* The pair of places nearest to it: in its channel the last one at or before it, in the
	   others the first one of that segment. */
	bool pair;
	uint64_t segment;
	bool has[YOKE_CHANNELS_MAX];
	struct restart_place place[YOKE_CHANNELS_MAX];
};

enum restart_end {
	RESTART_WHOLE, /* every channel ended, or its program begins again */
	RESTART_STUCK, /* the run fails behind the last segment */
	RESTART_LOST,  /* a channel was not followed to its end: why */
};

struct restart {
	const char *machine, *job, *revision; /* belong to profile and report; "" unknown */
	char *outcome,
	    *switches; /* the check's outcome, the block-skip switches, in words; owned */
	enum restart_end end;
	const char *why; /* of RESTART_LOST: static text */
	bool branches;   /* which blocks are executed depends on data that is not known */
	size_t channels;
	const char *name[YOKE_CHANNELS_MAX], *file[YOKE_CHANNELS_MAX]; /* file NULL: no program */
	struct restart_segment *segment;
	size_t segments;
	uint64_t segments_more;
	struct restart_place *place; /* as the run comes to them */
	size_t places;
	uint64_t places_more;
	struct restart_near near[YOKE_CHANNELS_MAX];
	size_t nears;
	/* The blocks that were asked for lie in different segments: started there, the channels
	   would meet at the wrong codes or wait for ever. */
	bool dangerous;
};

/*
 * Read "upper:N430" or "upper:120" (a line). False, with one line in why.
 */
bool restart_ask_read(
    const struct profile *profile, const char *s, struct restart_ask *out, struct text *why);

/*
 * Compute them; asks: n blocks, at most YOKE_CHANNELS_MAX. The report must be of programs whose
 * bytes were lent (program_lend), and these, the profile and the report must outlive the result.
 * NULL when memory runs out.
 */
struct restart *restart_new(const struct pair_report *r, const struct restart_ask *asks, size_t n);
void restart_free(struct restart *r);

/* Which of the near pairs leaves nothing out for any of the blocks that were asked for: the one of
 * the earliest segment; -1 when there is none. */
int restart_nearest(const struct restart *r);

/* In lines of at most width columns (at least 60): the near pairs where blocks were asked for, else
 * all places. */
void restart_print(const struct restart *r, unsigned width, struct text *out);

/* What must be known before a restart: static texts, a NULL behind the last. */
extern const char *const restart_cautions[];

#endif
