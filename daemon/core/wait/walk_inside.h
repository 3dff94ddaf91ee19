/* The inside of a walk: who called whom, and what the local variables hold. */
#ifndef WAIT_WALK_INSIDE_H
#define WAIT_WALK_INSIDE_H

#include "walk.h"

enum { WAIT_LOCALS = 33, WAIT_MEMO = 64 };

/* Local variables #1 to #33; what is not known is not in known. */
struct wait_locals {
	uint64_t known; /* bit 1 to 33 */
	struct nc_value v[WAIT_LOCALS + 1];
};

/* A program under way; frame 0 is the main program. */
struct wait_frame {
	uint32_t unit, next;       /* who called, and where it goes on */
	uint64_t left;             /* runs to come, the one at hand included */
	uint32_t call;             /* that called it */
	uint32_t level;            /* the frame whose locals it uses: its own or a caller's */
	bool modal;                /* called behind a block that moves */
	bool idle;                 /* nothing in it matters: walked for its text only */
	struct wait_locals locals; /* where level is this frame */
};

/* A modal call that is ready: the values of its arguments are those of its block. */
struct wait_modal {
	bool on;
	uint32_t call, unit;
	uint64_t times;
	struct wait_locals locals;
};

/* A place that the walk was at, without an answer since: where it comes again it is endless. */
struct wait_mark {
	uint64_t since, due; /* steps back since the last answer; when to take a new place */
	struct wait_walk at;
	bool set;
	struct {
		uint32_t unit, label, at;
	} memo[WAIT_MEMO]; /* computed labels looked up before, at + 1 */
};

enum wait_walk_kind wait_walk_answer(
    struct wait_walk *w, enum wait_walk_kind kind, uint32_t at, const char *why);
/* It cannot go on from instruction at; in a program in which nothing matters: back to who called
 * that. */
void wait_walk_lost(struct wait_walk *w, uint32_t at, const char *why);

/* To instruction target. A way back in the text is watched for loops without end. */
void wait_walk_jump(struct wait_walk *w, uint32_t at, uint32_t target, enum wait_walk_move move);

/* To the block with a sequence number, which instruction target is behind, if a control can go
 * there. at: the jump, or the return; from: where it leaves the program that holds the block. */
void wait_walk_to_label(struct wait_walk *w, uint32_t at, uint32_t from, uint32_t target);

/* walk_call.c */
void wait_walk_call(struct wait_walk *w, uint32_t at);
void wait_walk_move(struct wait_walk *w, uint32_t at);
/* The program at hand has run to its end: once more, or back to who called it. Not in frame 0. */
void wait_walk_back(struct wait_walk *w);
/* M99 with a label of the caller. */
void wait_walk_back_to(struct wait_walk *w, uint32_t at);
/* The label that an expression names, into w->label; false when it is not known. */
bool wait_walk_label(struct wait_walk *w, uint32_t expr);
/* To a label of the unit at hand that only the run knows. */
void wait_walk_goto(struct wait_walk *w, uint32_t at, uint32_t expr);

/* walk_state.c */
struct nc_value wait_walk_eval(const struct wait_walk *w, uint32_t expr);
void wait_walk_set(struct wait_walk *w, uint32_t at);
/* Keep of to what from holds too. */
void wait_locals_common(struct wait_locals *to, const struct wait_locals *from);
void wait_locals_assign(struct wait_locals *to, const struct wait_locals *from);

#endif
