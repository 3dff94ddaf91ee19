/* What the files of the timeline share. */
#ifndef TIMELINE_INSIDE_H
#define TIMELINE_INSIDE_H

#include "meet.h"
#include "motion.h"
#include "timeline.h"
#include "trace.h"

/* --- timeline_part.c: what a channel does up to its next rung --- */

/* A channel on its way. Zero-initialise, then begin. */
struct timeline_way {
	const char *name; /* of the channel's own file */
	struct modal modal;
	struct timeline_part part;
	bool cuts;     /* a cutting move was seen in this part */
	bool own_text; /* lines are those of the program itself */
	bool called;   /* the last block called a program, */
	uint32_t from; /* at this depth */
};

/* number: the channel of the machine; name: of its file, must outlive the timeline. */
void timeline_part_begin(
    struct timeline_way *w, const struct profile *profile, int number, const char *name);
/* One more step. A call that the trace does not go into is counted as a cycle that is not followed.
 * Only blocks count otherwise. */
void timeline_part_step(struct timeline_way *w, const struct trace_step *step);
/* The part ends; the next one begins. */
void timeline_part_next(struct timeline_way *w, struct timeline_part *ended);
/* sum += add */
void timeline_part_sum(struct timeline_work *sum, const struct timeline_work *add);
double timeline_part_seconds(const struct timeline_work *w);

/* --- timeline_path.c: which ways through the run are the longest --- */

#define TIMELINE_NO_RUNG SIZE_MAX

/* One rung, by index of the channels in the result. */
struct timeline_node {
	uint32_t goes;
	double seconds[YOKE_CHANNELS_MAX]; /* of the part before it, of those that go on */
	size_t after;                      /* the rung that sent the signal that it needs */
};

/* Rungs compared at most: time grows with their square. */
enum { TIMELINE_NODES_MAX = 1 << 13 };

struct timeline_path {
	struct timeline_node *v;
	size_t n, cap;
	bool over; /* there were more: nothing can be said */
};

/* False without memory. */
bool timeline_path_add(struct timeline_path *p, const struct timeline_node *node);
/* critical and gain_seconds of the kept parts; the last rung is the end of all channels. index: of
 * each machine channel in the result. False without memory. */
bool timeline_path_mark(const struct timeline_path *p, const int *index, struct timeline *t);
void timeline_path_free(struct timeline_path *p);

/* --- timeline_keep.c: the first and the last rungs of a run --- */

enum { TIMELINE_FIRST = 200, TIMELINE_LAST = 40 };

struct timeline_kept {
	struct timeline_rung rung;
	struct timeline_part part[YOKE_CHANNELS_MAX];
	size_t parts;
};

struct timeline_keep {
	struct timeline_kept *v; /* the first ones, then a ring of the last */
	size_t n;
	uint64_t seen;
};

/* Keep one more; what drops out of the middle is summed in out. False without memory. */
bool timeline_keep_add(
    struct timeline_keep *k, const struct timeline_kept *rung, struct timeline *out);
/* Hand what was kept over to out. False without memory. */
bool timeline_keep_finish(const struct timeline_keep *k, struct timeline *out);
void timeline_keep_free(struct timeline_keep *k);

/* --- timeline_signal.c: when signals were sent --- */

/* What was sent and not yet used up, by code and channel as in wait_signals: first in, first out.
 * Zero-initialise. */
struct timeline_sent {
	double at_seconds;
	size_t rung;
};

struct timeline_signals {
	struct timeline_queue {
		uint32_t code;
		uint8_t channel;
		struct timeline_sent *v;
		size_t head, n, cap;
	} queue[WAIT_SIGNALS_MAX];
	size_t n;
};

/*
 * What one rung did to the signals: before and after it. sent: when, for those that became more.
 * *used: the latest of those that became fewer, untouched when there is none; true in *waited then.
 * False without memory.
 */
bool timeline_signal_change(struct timeline_signals *s, const struct wait_signals *before,
    const struct wait_signals *after, const struct timeline_sent *sent, struct timeline_sent *used,
    bool *waited);
void timeline_signal_free(struct timeline_signals *s);

#endif
