/*
 * The inside of a flow: what matters of a program for its wait codes. Motion blocks leave nothing
 * here.
 */
#ifndef WAIT_FLOW_H
#define WAIT_FLOW_H

#include "look.h"
#include "wait.h"

enum wait_event_kind {
	WAIT_EVENT_CODE,    /* a wait code: target is its index in codes */
	WAIT_EVENT_CALL,    /* M98: target is the program number, after the end the unit's index */
	WAIT_EVENT_MACRO,   /* G65, G66: as a call, but its content is not followed */
	WAIT_EVENT_RETURN,  /* M99 without P */
	WAIT_EVENT_END,     /* M02, M30 */
	WAIT_EVENT_JUMP,    /* target is the index of the first event after its span, 0 when that is
	                       not known */
	WAIT_EVENT_UNKNOWN, /* from here on the flow is not known; why says so */
	WAIT_EVENT_NONE,    /* turned out not to matter */
};

struct wait_event {
	uint8_t kind;
	uint8_t skip; /* skip level of its block, 0 none */
	bool told;    /* a finding about it was given */
	bool back;    /* of JUMP: it leads back, to a label that stands once in the program */
	bool ends; /* of UNKNOWN: an M99 that leads elsewhere; the program ends here all the same */
	uint32_t target;
	uint32_t repeat; /* of calls; of JUMP with back: the index of the first event of its span */
	const char *why; /* of UNKNOWN, MACRO and JUMP: static text */
	struct wait_place at;
};

/* One program of the file: from its number to the next. */
struct wait_unit {
	uint32_t number;
	bool numbered;
	uint64_t line;     /* of its first block */
	size_t first, end; /* its events */
	uint32_t height;   /* calls that nest below it */
	size_t deepest;    /* the call that nests deepest, when height is not 0 */
	uint8_t mark;      /* 0: not reached, 1: on the way, 2: done */
	bool relevant;     /* what it does can change the wait codes met */
	bool has_jump;     /* IF, GOTO and the like stand in it */
};

/* What a label that is met later on means for a jump. */
enum wait_pending_kind {
	WAIT_PENDING_GOTO, /* its N number: the span ends there */
	WAIT_PENDING_LOOP, /* END of its DO: the span ends there */
	WAIT_PENDING_BACK, /* its N number once more: where it leads is not known */
};

struct wait_pending {
	size_t event;
	uint32_t label; /* N number, or number of the DO loop */
	enum wait_pending_kind kind;
};

/* Where an N number stands: kept by number, so that a file's labels cost no more than this. */
struct wait_label {
	uint32_t unit;  /* index of the program in which it was met last, from 1; 0: never */
	uint32_t event; /* the first one behind it, or WAIT_LABEL_TWICE */
};
#define WAIT_LABEL_TWICE UINT32_MAX

/* The blocks between two N numbers that a cycle cuts along. */
struct wait_contour {
	uint32_t from, to;
	bool met; /* its first block was met */
};

enum { WAIT_PENDING_MAX = 64, WAIT_CONTOURS_MAX = 64, WAIT_LABELS_MAX = 100000 };

struct wait_flow {
	const struct profile *profile;
	struct wait_event *event;
	size_t events, events_cap;
	struct wait_unit *unit;
	size_t units, units_cap;
	struct wait_code *code;
	size_t codes, codes_cap;
	struct wait_pending pending[WAIT_PENDING_MAX];
	size_t pendings;
	struct wait_label *label;                       /* N0 to N99999, once one was met */
	struct wait_contour contour[WAIT_CONTOURS_MAX]; /* of the unit */
	size_t contours, armed;                         /* armed: not met yet */
	bool inside, over;    /* inside a contour; its last block is at hand */
	uint32_t contour_end; /* N of that last block */
	int64_t sequence_max; /* largest N of the unit so far, -1 none */
	bool opened, closed;  /* the first and the last % were seen */
	bool begun;           /* a block was seen */
	bool mains;           /* a second main program stands in the file */
	uint64_t last_line;   /* of the last block taken */
	uint32_t skips;
};

/* Add an event at the end; NULL without memory. */
struct wait_event *wait_flow_add(
    struct wait_flow *f, enum wait_event_kind kind, uint8_t skip, const struct wait_place *at);

/* jump.c: note the block's jump, if it has one. False without memory. at: place of the block. */
bool wait_jump_block(struct wait_flow *f, const struct nc_block *b, const struct wait_place *at);
/* jump.c: N label is at this block: pending jumps to it know their span now. False without memory.
 */
bool wait_jump_label(struct wait_flow *f, int64_t sequence);
/* jump.c: turn the jumps of [first, end) into NONE whose span holds nothing that matters. */
void wait_jump_settle(struct wait_flow *f, size_t first, size_t end);

/* contour.c: another unit begins. */
void wait_contour_begin(struct wait_flow *f);
/* contour.c: a block with this N number, -1 without, is at hand: f->inside says where it stands. */
void wait_contour_block(struct wait_flow *f, int64_t sequence);
/* contour.c: the block at hand has a cycle over a contour. False when there are too many to keep.
 */
bool wait_contour_name(struct wait_flow *f, const struct wait_look *k);

/* call.c: resolve calls, find what matters, add findings. False without memory. */
bool wait_call_resolve(struct wait_flow *f, struct findings *list, const char *file, int channel);

#endif
