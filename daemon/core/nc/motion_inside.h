/* What the files of motion share. */
#ifndef MOTION_INSIDE_H
#define MOTION_INSIDE_H

#include "motion.h"

/* A way of the tool. */
struct motion_way {
	double length;                /* mm; degrees when only A, B or C move */
	double x0, x1;                /* radius at its ends, mm */
	bool x_known;                 /* these are known */
	const struct motion_arc *arc; /* NULL: straight */
	int arc_axis;                 /* as for motion_arc_seconds */
};

/* motion.c: seconds of a way at the feed in force; lead: of a thread along the way, 0: none. */
enum motion_left motion_feed_seconds(
    const struct modal *m, const struct motion_way *way, double lead, double *seconds);
/* Seconds of a rapid move of the named axes but one (-1: all); their ways must be known. */
double motion_rapid_seconds(const struct modal *m, const struct modal_step *s, int but);
/* Seconds for mm of rapid along one of X, Y and Z. */
double motion_rapid_mm_seconds(const struct modal *m, double mm);
/* Ways of all named axes but one are known. */
bool motion_ways_known(const struct modal_step *s, int but);

/* motion_drill.c */
enum motion_left motion_drill(
    const struct modal *m, const struct modal_step *s, struct motion *out);

/* motion_arc.c: an arc block. */
enum motion_left motion_arc(const struct modal *m, const struct modal_step *s, struct motion *out);

#endif
