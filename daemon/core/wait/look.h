/* The words of one block that matter to the flow. */
#ifndef WAIT_LOOK_H
#define WAIT_LOOK_H

#include "nc.h"
#include "wait.h"
#include "yoke/profile.h"

struct wait_look {
	const struct nc_word *number; /* a program number that begins its block */
	const struct nc_word *call, *macro, *sub_end, *end; /* M98; G65, G66; M99; M02, M30 */
	const struct nc_word *p, *l;                        /* the last ones */
	int64_t sequence;                                   /* N, -1 without */
	const struct nc_word *name; /* of a called program, between < and > */
	unsigned waits, calls;      /* waits: those written as a call too */
	uint32_t col;               /* of the first wait code, call or end, 0 without any */
	size_t words;               /* that are certain: those before a broken comment */
	bool contour;      /* a cycle over the blocks N from to N to: G70 to G73 with P and Q */
	bool finishes;     /* that is G70 */
	uint32_t from, to; /* with contour */
	bool moves;        /* X Y Z U V W, where they are not a time, a limit or data */
	bool may_move;     /* it moves if the control takes its other words so: C90., I5. */
	bool cancels;      /* G67 */
	const char *why;   /* why the block cannot be followed, static text; NULL when it can */
	bool unsure;       /* which codes it meets, or in which order, is not known: so is why */
};

/*
 * Look through a block. What a control might read in another way than the next one is never
 * decided here: why says what it is.
 */
void wait_look(struct wait_look *k, const struct profile *profile, const struct nc_block *b);

/* True when the word is a wait code: code->code and code->kind are set. */
bool wait_look_is_code(
    const struct profile *profile, const struct nc_word *w, struct wait_code *code);

#endif
