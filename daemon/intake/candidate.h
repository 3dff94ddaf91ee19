/* What to do next with one file of the watched folder, given what is seen of it and the time. Pure.
 */
#ifndef YOKE_INTAKE_CANDIDATE_H
#define YOKE_INTAKE_CANDIDATE_H

#include <stdbool.h>
#include <stdint.h>
#include "intake.h"

/* Why we look. */
enum candidate_cue {
	CANDIDATE_TIMER,  /* its own deadline, or a hint that something is gone */
	CANDIDATE_FOUND,  /* newly created, or in a newly watched folder: nobody said that it is
	                     whole */
	CANDIDATE_RESCAN, /* a full scan met it: events may have been lost */
	CANDIDATE_POLLED, /* polling met it: its times may come from another clock */
	CANDIDATE_CLOSED, /* a writer closed it, or it was moved here whole */
};

enum candidate_step {
	CANDIDATE_REST,       /* nothing until the next cue */
	CANDIDATE_WAIT,       /* look again at due_ms */
	CANDIDATE_READ,       /* settled: open it and call candidate_read */
	CANDIDATE_HAND_OVER,  /* arrived, with its end mark */
	CANDIDATE_INCOMPLETE, /* arrived, without */
};

struct candidate_rules {
	uint64_t settle_ms;
	uint64_t incomplete_ms;
};

struct candidate_clock {
	uint64_t loop_ms; /* never jumps */
	int64_t real_ns;  /* since 1970 UTC, to be compared with file times only */
};

struct candidate {
	struct intake_state seen; /* the newest state, valid if has_seen */
	uint64_t since_ms;        /* loop time at which `seen` was first met */
	uint64_t due_ms;          /* set with CANDIDATE_WAIT */
	bool has_seen;
	bool handed; /* `seen` was handed over */
	bool racy;   /* ... so soon after its last change that another save might look the same */
	bool closed; /* a writer closed `seen` */
	bool polled;
};

/*
 * The file is in state s. Returns REST, WAIT or READ.
 *
 * Settled is a file that was closed in this state, or that has not changed for settle_ms by our own
 * clock; or, if its times come from our clock (not polled), whose times both lie settle_ms back.
 */
enum candidate_step candidate_look(struct candidate *c, const struct intake_state *s,
    enum candidate_cue cue, const struct candidate_clock *now, const struct candidate_rules *rules);

/*
 * The file was opened, is in state s, and has an end mark or not. Returns HAND_OVER, INCOMPLETE or
 * WAIT. A state other than the one looked at begins anew.
 */
enum candidate_step candidate_read(struct candidate *c, const struct intake_state *s, bool marked,
    const struct candidate_clock *now, const struct candidate_rules *rules);

/* What was handed over is void: it must settle and arrive again. Sets due_ms to loop_ms + after_ms.
 */
void candidate_reopen(struct candidate *c, uint64_t loop_ms, uint64_t after_ms);

/* s was handed over in an earlier run; dev and ctime_ns may be 0 (not remembered). */
void candidate_known(struct candidate *c, const struct intake_state *s);

/* True if a and b are one state of one file; a 0 in dev or ctime_ns of either is not compared. */
bool candidate_same(const struct intake_state *a, const struct intake_state *b);

#endif
