/* The times of a ladder in words: the cycle, who waits in it, what makes it long, what is left out.
 */
#ifndef LADDER_TIMES_H
#define LADDER_TIMES_H

#include "yoke/timeline.h"

/*
 * Add sentences without line ends: what the cycle takes, how long each channel waits of it, what
 * 'critical' means where a part is, and that it is an estimate that leaves out so much; then what
 * each channel's programs left open.
 */
void ladder_times_words(const struct timeline *t, struct text *out);

#endif
