/* A flow while its blocks come in. */
#ifndef WAIT_BUILD_H
#define WAIT_BUILD_H

#include "flow.h"
#include "look.h"

/* Why an UNKNOWN stands where a wait code names its channels wrongly. */
#define WAIT_BAD_PARTNERS "a wait code that names its channels in a way that cannot be meant"

/* Why one stands where a cycle names a contour that is not there. */
#define WAIT_NO_CONTOUR "a cycle whose contour is not there"
/* Why one stands where no more is kept. */
#define WAIT_FULL "more codes, jumps, programs or sequence numbers than are kept"
/* Why nothing is followed in a file with two programs that could each be the one that runs. */
#define WAIT_MAINS "a second main program stands in the file"
/* Or in which text stands in front of the only % and behind it: either may be the program. */
#define WAIT_LED "blocks stand both in front of the % and behind it"
/* Why a call is not followed that leads to itself, whatever the data. */
#define WAIT_RECURSIVE "a subprogram that calls itself"

enum { WAIT_LOOPS_MAX = 64, WAIT_CONTOURS_MAX = 64 };

/* The blocks between two N numbers that a cycle cuts along. */
struct wait_contour {
	uint32_t from, to;
	uint32_t instr; /* of the cycle that names it */
	bool met;       /* its first block was met behind that */
};

struct wait_build {
	bool opened, closed; /* the first and the last % were seen */
	bool led;            /* the last one is the only one: text stood in front of it */
	bool begun;          /* a block was seen */
	bool modal;          /* a G66 stands before the block at hand, somewhere */
	bool full;           /* there was no room for more instructions, labels or programs */
	uint64_t last_line;  /* of the last block taken */
	struct {
		uint32_t instr, number;
	} loop[WAIT_LOOPS_MAX]; /* WHILE and DO without their END yet */
	size_t loops;
	struct wait_contour contour[WAIT_CONTOURS_MAX]; /* of the unit */
	size_t contours, armed;                         /* armed: not met yet */
	bool inside, over;    /* inside a contour; its last block is at hand */
	uint32_t contour_end; /* N of that last block */
	/* the block at hand */
	const struct nc_block *block;
	int32_t sequence;
	uint64_t set;           /* locals that it sets, bit by number; bit 0: any */
	char text[NC_LINE_MAX]; /* as it stands, blanks for comments and for what is uncertain */
	size_t length;
	bool faulty; /* words or numbers in it cannot be read */
};

/* build.c: what block b gives. False without memory. */
bool wait_build_block(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k);
/* build.c: the program at hand is over. False without memory. */
bool wait_build_over(struct wait_flow *f);
/* build.c: add an instruction of the block at hand, at byte column col; NULL without memory. */
struct wait_instr *wait_build_add(struct wait_flow *f, enum wait_op op, uint32_t col);
/* build.c: the flow is not known from here on. why: static text. False without memory. */
bool wait_build_unknown(struct wait_flow *f, uint32_t col, const char *why);
/* build.c: v with room for one more of size, as reallocarray; NULL without memory. */
void *wait_build_room(void *v, size_t n, size_t *cap, size_t size);
/* build.c: index of a static text among those of the flow; WAIT_NOWHERE without memory. */
uint32_t wait_build_why(struct wait_flow *f, const char *why);
/* build.c: instruction i becomes one from which on the flow is not known. False without memory. */
bool wait_build_lost(struct wait_flow *f, uint32_t i, const char *why);

/*
 * build_text.c: settings, conditions, jumps and loops of the block at hand. *unless: the UNLESS
 * whose THEN part is the rest of the block, WAIT_NOWHERE without. words: byte column of the block's
 * first wait code, call or end, 0 without any: with a jump in one block their order is not known.
 * False without memory.
 */
bool wait_build_text(struct wait_flow *f, uint32_t words, uint32_t *unless);
/* build_text.c: what cannot be read may have set any local variable. False without memory. */
bool wait_build_forget(struct wait_flow *f, uint32_t col);
/* build_text.c: the block itself sets what the expression reads: controls take the old value or
 * the new one. */
bool wait_build_sets(const struct wait_flow *f, uint32_t expr);
/* build_text.c: the program is over: loops that are still open have no END. False without memory.
 */
bool wait_build_loops(struct wait_flow *f);
/* build_doubt.c: faults in the block that may hide or feign something that matters: why; NULL when
 * there are none. *sets: a setting may be hidden. */
const char *wait_build_doubt(const struct profile *profile, const struct nc_block *b, bool *sets);

/* build_call.c: calls, ends and returns of the block at hand. False without memory. */
bool wait_build_call(struct wait_flow *f, const struct wait_look *k);
bool wait_build_end(struct wait_flow *f, const struct wait_look *k);
/* build_call.c: the name of a word with NC_NAME, in upper case; the caller frees. NULL without
 * memory. */
char *wait_build_name(const struct nc_block *b, const struct nc_word *w);
/* build_code.c: its wait codes, as words and as calls. False without memory. */
bool wait_build_codes(struct wait_flow *f, const struct wait_look *k);

/* label.c: N numbers first, first + step, .. stand in front of the next instruction, one for each
 * of count blocks with this skip level. Beyond WAIT_LABELS_MAX runs they are not kept. False
 * without memory. */
bool wait_label_add(
    struct wait_flow *f, uint32_t first, uint32_t step, uint32_t count, uint8_t skip);
/* label.c: True when label n is one of the run. */
bool wait_label_has(const struct wait_labels *l, uint64_t n);
/* label.c: find the labels that constant jumps of all units go to. False without memory. */
bool wait_label_resolve(struct wait_flow *f);

/* contour.c: a block with this N number, -1 without, is at hand: inside says where it stands. */
void wait_contour_block(struct wait_build *b, int64_t sequence);
/* contour.c: the block at hand has a cycle over a contour. False without memory. */
bool wait_contour_name(struct wait_flow *f, const struct wait_look *k);
/* contour.c: the program at hand is over. False without memory. */
bool wait_contour_over(struct wait_flow *f);

/* Set by reach.c for each instruction. */
enum {
	WAIT_REACH_NO,
	WAIT_REACH_DOUBT, /* behind something that is not followed */
	WAIT_REACH_YES,   /* some run comes here, as far as conditions let it */
};

/* What the functions below work on. */
struct wait_resolve {
	struct wait_flow *f;
	struct findings *list;
	const char *file;
	int channel;
	bool library;
	bool begun, full;
	uint64_t last_line;
	uint64_t looks; /* entries that were looked through for returns to labels */
	uint8_t *reach; /* one for each instruction, and one behind the last */
	uint8_t *falls; /* one for each unit: it may run off its end, as above */
};

/* resolve.c: which unit each call means. False without memory. */
bool wait_resolve_calls(struct wait_flow *f);
/* resolve.c: calls that lead to themselves whatever the data get WAIT_RECURSIVE; heights. False
 * without memory. */
bool wait_resolve_depth(struct wait_resolve *r);
/* sister.c: append the programs of the sisters. False without memory. */
bool wait_sister_append(struct wait_flow *f);
/* reach.c: fill reach, falls, and the units' reached. False without memory. */
bool wait_reach(struct wait_resolve *r);
/* reach.c: a modal call that matters may be in effect where blocks that move left nothing: then
 * modal calls are not followed. False without memory. */
bool wait_reach_modal(struct wait_resolve *r);
/* reach_idle.c: fill idle, the units' relevant, and skips. *modal: a modal call matters. False
 * without memory. */
bool wait_reach_idle(struct wait_resolve *r, bool *modal);
/* reach_tell.c: the findings. False without memory. */
bool wait_reach_tell(struct wait_resolve *r);

#endif
