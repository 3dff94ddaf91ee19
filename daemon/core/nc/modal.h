/*
 * The modal state of one channel as its blocks are executed: what was programmed and still holds,
 * and what a block does on top of it.
 *
 * Nothing is known until it was programmed. NISTIR 6556, 3.6.1 names the state behind M02 and M30
 * (G54, G17, G90, G94, G40, M5, G1, M9), but the state in which a control starts is a setting of
 * it, and is not assumed. What is read otherwise than from a word:
 * - lengths are millimetres until G20 or G21 was programmed, as the profile's increment is;
 * - in a channel with diameters axes are absolute until G91 was programmed;
 * - in a channel without diameters S is a speed in 1/min until G96 or G97 was programmed (NISTIR
 *   6556 knows no other).
 *
 * U, V and W are incremental X, Y and Z, except behind G10 and the like; where T holds the offset,
 * H is an incremental C (common practice).
 *
 * Two families of G codes are in use on lathes (common practice). A: G98 and G99 are feed per
 * minute and per turn, G90, G92 and G94 with axes are turning, threading and facing cycles. B: G90
 * and G91 are absolute and incremental, G94 and G95 feed, G92 sets a position. In a channel with
 * diameters U, W, G98, G99 and a G92 with axes and F tell A; G91, G95 and a G90 or G94 beside
 * G00..G03 tell B, whichever comes first. As long as neither came, G90, G92 and G94 with axes leave
 * open what moves. A channel without diameters reads G90..G95 as NISTIR 6556 does, and G98 and G99
 * as the level to which a drilling cycle goes back.
 */
#ifndef MODAL_H
#define MODAL_H

#include "nc.h"
#include "yoke/profile.h"

enum modal_axis_name { MODAL_X, MODAL_Y, MODAL_Z, MODAL_A, MODAL_B, MODAL_C, MODAL_AXES };

/* A number as it was written. */
enum modal_state {
	MODAL_ABSENT,  /* never programmed, or not in the block */
	MODAL_UNKNOWN, /* programmed, but its value is not known */
	MODAL_KNOWN,
};
struct modal_number {
	enum modal_state state;
	double v;   /* with MODAL_KNOWN */
	bool point; /* it was written with a decimal point, or computed */
};

/* Where an axis stands, as programmed: mm, X as a radius, or degrees. */
struct modal_place {
	bool known;
	/* The tool, its offset or its length offset has changed since: the place differs by what
	   only the control knows. */
	bool shifted;
	double at;
};

/* G codes are kept in tenths: 543 is G54.3. */
enum {
	MODAL_NONE = -1, /* none of this group was programmed */
	MODAL_LOST = -2, /* one was, but which one is not known */
};

enum modal_family { MODAL_FAMILY_UNKNOWN, MODAL_FAMILY_A, MODAL_FAMILY_B };

/* What a drilling cycle keeps until another motion code. mm as places on its axis. */
struct modal_drill {
	int axis;                   /* MODAL_X, MODAL_Y, MODAL_Z */
	struct modal_place initial; /* where the axis stood before the cycle */
	struct modal_number level;  /* R */
	struct modal_number bottom; /* the axis word */
	struct modal_number peck;   /* Q, over 0 */
	struct modal_number dwell;  /* P, s */
};

struct modal {
	const struct profile_channel *channel;
	double increment; /* mm */
	enum modal_family family;

	int motion;      /* 0, 10, 20, 30, 320, 330, 340, 730..890; 900, 920, 940 as cycles */
	int plane;       /* 170, 180, 190 */
	int units;       /* 200, 210 */
	int distance;    /* 900, 910 */
	int feed_mode;   /* 930, 940, 950; G98 and G99 of family A are 940 and 950 */
	int back;        /* 980, 990: level to which a drilling cycle goes back */
	int speed_mode;  /* 960, 970 */
	int work_offset; /* 540..593; G54.1 is 541 */
	struct modal_number work_offset_p; /* of G54.1 P */
	int compensation;                  /* 400, 410, 420 */
	int length_offset;                 /* 430, 440, 490 and their kin */
	bool transformed; /* scaled, polar or on a cylinder (G51, G16, G12.1, G7.1): ways are not
	                     what the words say */

	struct modal_number feed;  /* F as written */
	struct modal_number speed; /* S as written */
	struct modal_number clamp; /* 1/min, of G50 S or G92 S */
	int spindle;               /* 3, 4, 5, MODAL_NONE, MODAL_LOST */
	int mist, flood;           /* M07, M08: 1 on, 0 off, MODAL_NONE, MODAL_LOST */

	struct modal_number tool;      /* in the spindle, or at work in the turret */
	struct modal_number tool_next; /* T that waits for its M06, where T names the tool alone */
	struct modal_number offset;    /* last digits of T, where it has them */
	struct modal_number h, d;      /* H and D, where T names the tool alone */
	struct modal_place place[MODAL_AXES];
	struct modal_drill drill;
	/* N of the first and last block of a contour that a cycle cuts along (G71..G73 P Q), while
	   they are passed over; -1 without. */
	int64_t contour_first, contour_last;
	bool in_contour;
};

/* What a block does, in the order of NISTIR 6556, table 8: tool change, dwell, then one of these.
 */
enum modal_act {
	MODAL_STILL,
	MODAL_RAPID,
	MODAL_LINE,
	MODAL_ARC,       /* motion says which way: 20 clockwise, 30 against the clock */
	MODAL_THREAD,    /* G32, G33 */
	MODAL_DRILL,     /* G81..G86, G89 in a channel without diameters */
	MODAL_CYCLE,     /* another cycle: what it does is not followed */
	MODAL_REFERENCE, /* G28, G30, G53: to a place of the machine */
	MODAL_PROBE,     /* G31, G36..G38: until something is touched */
	MODAL_NAMELESS,  /* axis words, but no motion code is known */
};

struct modal_step {
	enum modal_act act;
	bool tool_change;
	bool tool_named;    /* a T word stands in the block */
	bool offset_change; /* work offset, tool offset or length offset was programmed */
	bool dwell;
	struct modal_number dwell_seconds;
	bool named[MODAL_AXES]; /* axes that the block moves */
	struct modal_place from[MODAL_AXES], to[MODAL_AXES];
	struct modal_number way[MODAL_AXES]; /* from start to end, where that is known: of an
	                                        incremental word even when the places are not */
	bool shifted;                        /* some way begins at a shifted place */
	struct modal_number centre[3];       /* I J K: mm from the start, X as a radius */
	struct modal_number radius;          /* R, mm */
	struct modal_number lead;            /* of a thread: mm/turn */
	uint64_t repeat;                     /* of a drilling cycle: how often; 1 without L and K */
	bool optional_stop, stop;            /* M01; M00 */
	bool end;                            /* M02, M30 */
};

/* Nothing programmed yet. channel and profile must outlive m; the channel is one of the profile's.
 */
void modal_begin(
    struct modal *m, const struct profile *profile, const struct profile_channel *channel);

/*
 * Execute one block. step says what it did; the state is the one behind the block, so that during
 * its motion feed, speed and offsets hold as they stand in m. Words of macro calls (G65, G66) are
 * arguments and do nothing here. NULL for step is allowed.
 */
void modal_block(struct modal *m, const struct nc_block *b, struct modal_step *step);

/*
 * A program was called that is not in the text (it lives in the control) and was passed over: where
 * the axes stand, and which motion code holds, is not known behind it. That it leaves feed, speed,
 * units and the like as they were is taken for granted (common practice).
 */
void modal_passed(struct modal *m);

/* A G or M code in tenths, exactly: G54.1 is 541, G0 is 0. -1 where the word is not one, has more
 * than one digit behind the point, or is not known. */
int modal_code(const struct nc_word *w);

/* A word as a plain number. */
struct modal_number modal_plain(const struct nc_word *w);

/*
 * A word as a dimension in mm: without a decimal point it counts in the profile's increment (a
 * tenth of it, of an inch, with G20: checked values of decimal-point input), and inches are 25.4
 * mm. Diameters are not halved here.
 */
struct modal_number modal_length(const struct modal *m, const struct nc_word *w);

/* Feed in mm per minute, mm per turn, or 1/min, as feed_mode says; not known when either is not. A
 * feed per turn without a point is not known where the increment is not 1. */
struct modal_number modal_feed(const struct modal *m);

/* Spindle: 1/min under G97, m/min under G96 (feet are 0.3048 m), not known while it is off. */
struct modal_number modal_speed(const struct modal *m);

/* The speed that G96 does not pass, 1/min: the clamp, else the channel's. */
struct modal_number modal_clamp(const struct modal *m);

#endif
