/*
 * One channel's run under one setting of the switches, an instruction at a time, in memory that
 * does not grow with the run.
 */
#ifndef WAIT_WALK_H
#define WAIT_WALK_H

#include "flow.h"

enum wait_walk_kind {
	WAIT_WALK_WENT,    /* one instruction was done (of wait_walk_step only) */
	WAIT_WALK_CODE,    /* it stands at a wait code, a send or a receive */
	WAIT_WALK_END,     /* it has ended */
	WAIT_WALK_ROUND,   /* its M99 begins the program again, if one goes on */
	WAIT_WALK_BRANCH,  /* a condition on unknown data: wait_walk_take says which way */
	WAIT_WALK_UNKNOWN, /* what follows is not known: why */
	WAIT_WALK_LONG,    /* more steps than run_max */
	WAIT_WALK_ENDLESS, /* it runs on for ever and comes to no wait code: at is in the loop */
};

/* What the last step did, for those who follow in the text. */
enum wait_walk_move {
	WAIT_MOVE_ON,    /* to the next instruction */
	WAIT_MOVE_SKIP,  /* a switch skipped its block: to the next instruction */
	WAIT_MOVE_LABEL, /* to label in unit */
	WAIT_MOVE_THEN,  /* behind its block: a condition was false */
	WAIT_MOVE_PAST,  /* behind the END of its loop */
	WAIT_MOVE_LOOP,  /* to its WHILE */
	WAIT_MOVE_CALL,  /* to the beginning of unit; also once more for a repeat */
	WAIT_MOVE_BACK,  /* behind the block of the call, in unit */
	WAIT_MOVE_BEGIN, /* to the beginning of the main program */
};

enum { WAIT_WALK_SKIPPED = 16 };

struct wait_frame;

/* Fields are for reading. */
struct wait_walk {
	const struct wait_flow *f;
	bool all;            /* idle instructions are executed too */
	uint32_t on;         /* switches, bit set by level */
	uint64_t steps;      /* instructions so far: a return counts with its call */
	uint32_t unit, next; /* the instruction at hand; unit end: it runs out */
	enum wait_walk_kind kind;
	enum wait_walk_move move;
	uint32_t label;  /* with WAIT_MOVE_LABEL */
	uint32_t at;     /* the instruction that answered; WAIT_NOWHERE when the program ran out */
	uint32_t depth;  /* calls on the way */
	bool round;      /* it has begun again */
	bool assumed;    /* an idle condition was not known, and taken as false */
	const char *why; /* of UNKNOWN: static text */
	struct wait_frame *frame; /* the program at hand last */
	struct wait_modal *modal; /* the modal call, NULL while none was made ready */
	struct wait_mark *mark;   /* an earlier place of this walk, to find endless loops by */
	const uint64_t *live;     /* by instruction: locals that matter from there on; NULL: all */
	uint32_t self; /* this machine channel as a set of one; 0 where it is not known */
	/* instructions that a switch skipped since the last answer, the first ones */
	uint32_t skipped[WAIT_WALK_SKIPPED];
	size_t skips;
};

/* all: execute what does not matter to wait codes too; an unknown condition that is idle is then
 * taken as false. False without memory. */
bool wait_walk_begin(struct wait_walk *w, const struct wait_flow *f, bool all);
void wait_walk_end(struct wait_walk *w);
/* Back to the beginning, with these switches on. */
void wait_walk_restart(struct wait_walk *w, uint32_t on);
/* Another walk at the same place; false without memory. to is begun here. */
bool wait_walk_copy(struct wait_walk *to, const struct wait_walk *from);
/* Make to, a walk over the same flow that was begun, stand where from stands. */
void wait_walk_assign(struct wait_walk *to, const struct wait_walk *from);
/* One instruction; after END, UNKNOWN, LONG and ENDLESS the answer stays. At CODE and ROUND the
 * next step goes on; at BRANCH wait_walk_take must come first. */
enum wait_walk_kind wait_walk_step(struct wait_walk *w);
/* Steps until the answer is not WENT. */
enum wait_walk_kind wait_walk_next(struct wait_walk *w);
/* Decide the condition at which it stands. */
void wait_walk_take(struct wait_walk *w, bool yes);
/* The code at which it stands, or NULL. */
const struct wait_code *wait_walk_code(const struct wait_walk *w);
/* What a variable holds here. */
struct nc_value wait_walk_read(const struct wait_walk *w, uint32_t number);
/*
 * Everything that the rest of the run depends on, as bytes, appended to *bytes (n, cap; grown with
 * realloc): two walks over one flow with equal bytes and switches go on alike. False without
 * memory.
 */
struct wait_bytes {
	uint8_t *v;
	size_t n, cap;
};
bool wait_bytes_add(struct wait_bytes *b, const void *bytes, size_t n);
bool wait_walk_pack(const struct wait_walk *w, struct wait_bytes *bytes);
/* Where two walks over one flow stand at one place, called the same way: what their local variables
 * do not both hold, w knows no more, and true is returned. */
bool wait_walk_widen(struct wait_walk *w, const struct wait_walk *other);
/* True when two walks over one flow stand at one place and go on alike. */
bool wait_walk_same(const struct wait_walk *a, const struct wait_walk *b);
/* Make a walk over the same flow stand where the packed one stood, with its own switches; steps
 * stay. Returns how many bytes were read. */
size_t wait_walk_unpack(struct wait_walk *w, const uint8_t *bytes);

#endif
