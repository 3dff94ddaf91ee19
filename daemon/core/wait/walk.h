/* One channel's run under one setting of the switches, a step at a time, in memory that does not
 * grow with the run. */
#ifndef WAIT_WALK_H
#define WAIT_WALK_H

#include "flow.h"

enum wait_walk_kind {
	WAIT_WALK_CODE,    /* the channel waits */
	WAIT_WALK_END,     /* the channel has ended */
	WAIT_WALK_UNKNOWN, /* what follows is not known */
	WAIT_WALK_LONG,    /* more steps than run_max */
};

enum { WAIT_WALK_SKIPPED = 16 };

struct wait_frame;

struct wait_walk {
	const struct wait_flow *f;
	uint32_t on;    /* switches, bit set by level */
	uint64_t steps; /* wait codes and calls so far */
	struct wait_frame *frame;
	size_t depth; /* of the frame at hand */
	uint32_t unit;
	size_t next; /* event */
	enum wait_walk_kind kind;
	bool repeats;                /* it ended with an M99 that begins the program again */
	bool round;                  /* it has begun again */
	const struct wait_event *at; /* the event that answered; NULL when the program ran out */
	/* what a switch skipped since the last answer, the first ones */
	const struct wait_event *skipped[WAIT_WALK_SKIPPED];
	size_t skips;
};

/* False without memory. */
bool wait_walk_begin(struct wait_walk *w, const struct wait_flow *f);
/* Back to the beginning, with these switches on. */
void wait_walk_restart(struct wait_walk *w, uint32_t on);
/* Another walk at the same place; false without memory. */
bool wait_walk_copy(struct wait_walk *to, const struct wait_walk *from);
/* Go on to the next wait code; after anything else the answer stays the same. */
enum wait_walk_kind wait_walk_next(struct wait_walk *w);
/* Begin the program again behind the M99 that ended it: only where repeats is set. */
void wait_walk_again(struct wait_walk *w);
/* The code at which it waits, or NULL. */
const struct wait_code *wait_walk_code(const struct wait_walk *w);
void wait_walk_end(struct wait_walk *w);

#endif
