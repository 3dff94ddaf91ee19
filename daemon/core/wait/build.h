/* A flow while its blocks come in. */
#ifndef WAIT_BUILD_H
#define WAIT_BUILD_H

#include "flow.h"
#include "look.h"

/* Why an UNKNOWN stands where a wait code names its channels wrongly. */
#define WAIT_BAD_PARTNERS "a wait code that names its channels in a way that cannot be meant"

enum { WAIT_LOOPS_MAX = 64, WAIT_CONTOURS_MAX = 64 };

/* The blocks between two N numbers that a cycle cuts along. */
struct wait_contour {
	uint32_t from, to;
	bool met; /* its first block was met */
};

struct wait_build {
	bool opened, closed; /* the first and the last % were seen */
	bool begun;          /* a block was seen */
	bool modal;          /* a G66 stands before the block at hand, somewhere */
	bool full;           /* there was no room for more instructions or labels */
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
	uint32_t first; /* its first instruction */
	uint64_t set;   /* locals that it sets, bit by number; bit 0: any */
};

/* flow.c: add an instruction of the block at hand, at byte column col; NULL without memory or room.
 */
struct wait_instr *wait_build_add(struct wait_flow *f, enum wait_op op, uint32_t col);
/* flow.c: the flow is not known from here on. why: static text. False without memory. */
bool wait_build_unknown(struct wait_flow *f, uint32_t col, const char *why);
/* flow.c: v with room for one more of size, as reallocarray; NULL without memory. */
void *wait_build_room(void *v, size_t n, size_t *cap, size_t size);
/* flow.c: index of a static text among those of the flow; WAIT_NOWHERE without memory. */
uint32_t wait_build_why(struct wait_flow *f, const char *why);

/* build_text.c: settings, conditions, jumps and loops of the block at hand. *unless: the UNLESS
 * whose THEN part is the rest of the block, WAIT_NOWHERE without. False without memory. */
bool wait_build_text(struct wait_flow *f, uint32_t *unless);
/* build_text.c: the unit is over: loops that are still open have no END. False without memory. */
bool wait_build_loops(struct wait_flow *f);

/* build_call.c: calls, ends and returns of the block at hand. False without memory. */
bool wait_build_call(struct wait_flow *f, const struct wait_look *k);
bool wait_build_end(struct wait_flow *f, const struct wait_look *k);
/* build_code.c: its wait codes, as words and as calls. False without memory. */
bool wait_build_codes(struct wait_flow *f, const struct wait_look *k);

/* label.c: N numbers first, first + step, .. stand in front of the next instruction, one for each
 * of count blocks. False without memory. */
bool wait_label_add(struct wait_flow *f, uint32_t first, uint32_t step, uint32_t count);
/* label.c: find the labels that constant jumps of all units go to. False without memory. */
bool wait_label_resolve(struct wait_flow *f);

/* contour.c: another unit begins. */
void wait_contour_begin(struct wait_build *b);
/* contour.c: a block with this N number, -1 without, is at hand: inside says where it stands. */
void wait_contour_block(struct wait_build *b, int64_t sequence);
/* contour.c: the block at hand has a cycle over a contour. False when there are too many to keep.
 */
bool wait_contour_name(struct wait_build *b, const struct wait_look *k);

/* What the functions below work on; told: one for each instruction, a finding was given. */
struct wait_resolve {
	struct wait_flow *f;
	struct findings *list;
	const char *file;
	int channel;
	bool library;
	uint64_t last_line;
	bool begun;
	uint8_t *reach; /* one for each instruction: some run may come here */
	uint8_t *told;
	bool *falls; /* one for each unit: it may run off its end */
};

/* resolve.c: which unit each call means. False without memory. */
bool wait_resolve_calls(struct wait_resolve *r);
/* sister.c: append the programs of the sisters. False without memory. */
bool wait_sister_append(struct wait_flow *f);
/* reach.c: fill reach, falls, and the units' reached. False without memory. */
bool wait_reach(struct wait_resolve *r);
/* idle.c: fill idle, the units' relevant, and skips. False without memory. */
bool wait_idle(struct wait_flow *f);
/* tell.c: the findings. False without memory. */
bool wait_tell(struct wait_resolve *r);

#endif
