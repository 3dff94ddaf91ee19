/*
 * When each channel works and when it waits: an estimate from the programs alone, for one cycle of
 * a pair. Every output of it says that it is an estimate, and what it leaves out.
 */
#ifndef YOKE_TIMELINE_H
#define YOKE_TIMELINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/limits.h"
#include "yoke/pair.h"
#include "yoke/text.h"

enum { TIMELINE_TOOLS_MAX = 8, TIMELINE_TEXT_MAX = 64 };

/* What is not in the times of a part. */
enum timeline_left {
	TIMELINE_LEFT_PLACE,     /* moves from or to a place that is not known */
	TIMELINE_LEFT_DISTANCE,  /* moves where neither G90 nor G91 was programmed before */
	TIMELINE_LEFT_FEED,      /* moves at a feed or spindle speed that is not known */
	TIMELINE_LEFT_SHAPE,     /* arcs that cannot be, scaled or polar ways */
	TIMELINE_LEFT_CYCLE,     /* cycles that are not followed */
	TIMELINE_LEFT_CALL,      /* calls of programs that are not in the files */
	TIMELINE_LEFT_REFERENCE, /* moves to places of the machine, probing */
	TIMELINE_LEFT_DWELL,     /* dwells of unknown length */
	TIMELINE_LEFT_STOP,      /* stops for the operator: M00, M01 */
	TIMELINE_LEFTS
};

/* Times and counts of one or more parts of a channel. */
struct timeline_work {
	double feed_seconds, rapid_seconds, dwell_seconds, tool_seconds;
	uint64_t blocks;               /* executed */
	uint64_t left[TIMELINE_LEFTS]; /* how many of each were left out */
};

/* What one channel does between two rungs. */
struct timeline_part {
	int channel;     /* of the machine, from 0 */
	bool from_start; /* it begins with the program, and not behind a rung */
	bool to_end;     /* it ends with the program, and not at a wait code */
	uint64_t first;  /* number of the rung before it, from 0; not with from_start */
	uint64_t last;   /* number of the rung behind it */
	/* Of its blocks in the program itself, or in a subprogram when it has no others; 0 without.
	 */
	uint64_t first_line, last_line;
	const char *file; /* that these stand in; belongs to the programs; NULL without */
	struct timeline_work work;
	double start_seconds; /* of the cycle */
	double seconds;       /* sum of its four times */
	double wait_seconds;  /* that the channel then stands at the rung behind it */
	bool critical;        /* nothing between it and the end of the cycle waits for anything
	                         else: if it takes longer, so does the cycle */
	double gain_seconds;  /* how much shorter the cycle would be if it took no time */
	uint32_t tool[TIMELINE_TOOLS_MAX]; /* tools that moved, in order, each once */
	size_t tools;
	bool more_tools;
	/* The last comment before its first cutting move, else its first one, as it stands in the
	   text; "" without. */
	char comment[TIMELINE_TEXT_MAX];
	/* At its first cutting move: "1200 1/min", "200 m/min up to 3000 1/min"; "" when it is not
	   known. */
	char spindle[TIMELINE_TEXT_MAX];
};

/* One rung: who went on together, and when. */
struct timeline_rung {
	uint64_t number; /* from 0, in the order of the run */
	uint32_t code;   /* 203 for M203; 0: all have ended, or stand at different codes */
	bool call;       /* code is of a call: 7 for MEET(7,..) */
	bool meets;      /* false: here the run fails */
	uint32_t goes;   /* machine channels that take part, bit 0 for the first */
	double at_seconds;
	double wait_seconds[YOKE_CHANNELS_MAX]; /* by machine channel; 0 for one that takes no part
	                                         */
	uint64_t repeat; /* how many rungs behind this one are summed in between */
};

enum timeline_end {
	TIMELINE_WHOLE, /* every channel ended, or its program begins again */
	TIMELINE_STUCK, /* the run shown fails: times are those up to there */
	TIMELINE_LOST,  /* a channel could not be followed to its end: why */
};

struct timeline_channel {
	bool present;
	const char *name;          /* belongs to the profile */
	uint32_t on;               /* skip switches that are on, bit 1 for / and /1 */
	struct timeline_work work; /* the whole run */
	double work_seconds, wait_seconds, end_seconds;
};

struct timeline {
	enum timeline_end end;
	const char *why; /* of TIMELINE_LOST: static text, or NULL */
	size_t channels; /* of the machine */
	struct timeline_channel channel[YOKE_CHANNELS_MAX];
	double cycle_seconds; /* when the last channel ends */
	bool critical_known;  /* false for runs that are too long to compare all ways through them
	                       */
	bool branches;        /* the run depends on unknown data: it is one of several */
	uint64_t rungs_run;   /* rungs of the whole run */
	struct timeline_rung *rung;
	size_t rungs;
	struct timeline_part *part; /* in the order of their ends, then of their channels */
	size_t parts;
	struct timeline_work between[YOKE_CHANNELS_MAX]; /* parts that are not kept, summed */
};

/*
 * Work out the timeline of the run that the report's ladder shows. The report must be of programs
 * whose bytes were lent (program_lend), and these and the report must outlive the timeline. NULL
 * when memory runs out. Where the programs cannot be followed end is TIMELINE_LOST.
 */
struct timeline *timeline_new(const struct pair_report *r);
void timeline_free(struct timeline *t);

/* A table of parts, rungs and sums in at most width columns (at least 60), plain ASCII, that calls
 * itself an estimate and says what it leaves out. */
void timeline_print(const struct timeline *t, unsigned width, struct text *out);

/* That times are an estimate, of what, and what no time here holds: "an estimate from the programs
 * alone: .. are left out". Static text; whoever shows a time shows it too. */
const char *timeline_estimate_words(void);

/* What one kind of omission is, for "3 cycles that are not followed": static text. */
const char *timeline_left_words(enum timeline_left left);

#endif
