/*
 * How long a block moves. Estimates: what is programmed, at the feed that is programmed, without
 * acceleration, look-ahead, override, or waiting for a spindle to reach its speed. What is not
 * known is counted and never guessed.
 */
#ifndef MOTION_H
#define MOTION_H

#include "modal.h"

/* Why a block's time is not known. */
enum motion_left {
	MOTION_LEFT_NONE,
	MOTION_LEFT_PLACE,    /* the move starts or ends at a place that is not known */
	MOTION_LEFT_DISTANCE, /* neither G90 nor G91 says how its axis words count */
	MOTION_LEFT_FEED,     /* the feed or its mode is not known */
	MOTION_LEFT_SPEED,    /* the spindle's speed is not known, and the feed is per turn */
	MOTION_LEFT_SHAPE, /* an arc that cannot be, or axes that are scaled, polar or on a cylinder
	                    */
	MOTION_LEFT_CYCLE, /* a cycle, or a code of motion, that is not followed */
	MOTION_LEFT_REFERENCE, /* to a place of the machine, or until something is touched */
	MOTION_LEFT_DWELL,     /* a dwell whose length is not known */
	MOTION_LEFTS
};

struct motion {
	double feed_seconds, rapid_seconds, dwell_seconds;
	double tool_seconds;         /* the profile's tool_change for each change */
	double feed_mm, rapid_mm;    /* ways of X, Y and Z */
	enum motion_left left;       /* why the motion is not in the sums */
	enum motion_left left_dwell; /* why the dwell is not */
};

/*
 * The block that modal_block has just executed with this state and step.
 *
 * Rapid: each axis at its own rate, the longest time counts. Feed per minute: the way of X, Y and
 * Z, or that of the other axes in degrees when none of these moves (NISTIR 6556, 2.1.2.5; from
 * memory). Feed per turn: as motion_line_seconds. Inverse time: 1/F minutes. Threads: the lead runs
 * along the axis that goes farther (common practice). An arc lies in the plane of the axes that it
 * names where no plane was programmed. Drilling: rapid to the hole and to R, feed to the bottom,
 * out and in again for each peck, rapid back (NISTIR 6556, 3.5.16); clearances of pecks are left
 * out.
 */
void motion_of(const struct modal *m, const struct modal_step *s, struct motion *out);

/* A few words for a reason: "from or to a place that is not known". Static text. */
const char *motion_left_words(enum motion_left left);

/* How feed and speed make time. */
struct motion_rate {
	double feed;  /* mm per turn */
	double speed; /* 1/min, or m/min when constant_surface */
	bool constant_surface;
	double clamp; /* 1/min, of constant_surface: over 0 */
};

/*
 * Seconds for a straight way of length mm (over 0) at a feed per turn, on which X goes evenly from
 * radius x0 to x1 (mm, signs allowed). Constant surface speed: the integral of d(way) / (feed *
 * n(x)) with n = min(1000 v / (pi d), clamp), in closed form; the surface speed is that at twice
 * |X|.
 */
double motion_line_seconds(const struct motion_rate *rate, double length, double x0, double x1);

/* A circular way, or a helix, about an axis across the plane. */
struct motion_arc {
	double radius; /* mm */
	double start;  /* angle at its begin, radians, from the plane's first axis */
	double sweep;  /* radians, over 0 against the clock; a full circle is 2 pi */
	double rise;   /* mm along the axis across the plane */
	double length; /* mm, true length */
	double u, v;   /* the centre, in the plane's axes */
};

/*
 * The arc from (u0, v0) to (u1, v1) in the plane's axes (G17 X Y, G18 Z X, G19 Y Z), clockwise for
 * G2, that climbs rise across the plane. By centre: its distance from the start; start and end
 * radius may differ by 0.02 mm or a thousandth (NISTIR 6556, 3.5.3 has 0.002 mm; controls allow
 * more, common practice), a start at the end is a full circle. By radius: the minor arc, the major
 * one for a negative radius; a chord longer than twice the radius by up to 0.02 mm is a half
 * circle. False when there is no such arc.
 */
bool motion_arc_centre(const double from[2], const double to[2], const double centre[2],
    double rise, bool clockwise, struct motion_arc *out);
bool motion_arc_radius(const double from[2], const double to[2], double radius, double rise,
    bool clockwise, struct motion_arc *out);

/* The arc of a block with MODAL_ARC, about the place where it starts where that is known, else
 * about 0; axes: first and second of its plane, and the one across it. MOTION_LEFT_NONE, or why
 * there is none. */
enum motion_left motion_arc_of(
    const struct modal *m, const struct modal_step *s, struct motion_arc *out, int axes[3]);

/* Seconds for an arc at a feed per turn. axis: which of the plane's axes is X, 0 or 1; 2: X lies
 * across the plane, and goes from x0 to x0 + rise. In closed form. */
double motion_arc_seconds(
    const struct motion_rate *rate, const struct motion_arc *arc, int axis, double x0);

#endif
