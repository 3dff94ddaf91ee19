/* Blocks of a text through reader, modal state and motion, for the tests of both. */
#ifndef STEPS_H
#define STEPS_H

#include "motion.h"

enum { STEPS_MAX = 128 };

struct steps {
	struct profile profile; /* channel 0 mills, channel 1 turns: mm, 0.001 mm without point,
	                           rapid 6000 mm/min and 3600 degrees/min, 3 s a tool */
	struct modal modal;
	struct {
		struct modal_step step;
		struct motion motion;
	} v[STEPS_MAX]; /* one per block; of the text that ran last */
	size_t n;
	double feed, rapid, dwell, tool; /* seconds, of everything that ran */
	unsigned left[MOTION_LEFTS];
};

void steps_begin(struct steps *s, bool turns);
/* Run more text; newlines end blocks. */
void steps_run(struct steps *s, const char *text);
/* Begin and run. */
void steps_of(struct steps *s, bool turns, const char *text);
/* The last block. */
const struct modal_step *steps_last(const struct steps *s);
/* How many blocks were left out, for any reason. */
unsigned steps_left(const struct steps *s);

#endif
