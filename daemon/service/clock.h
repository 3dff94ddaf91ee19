/*
 * The computer's clock: when it is set, times before and after cannot be compared, and the trail says so. Looked
 * at once a second against a clock that nobody can set.
 */
#ifndef SERVICE_CLOCK_H
#define SERVICE_CLOCK_H

#include "inside.h"

/* Before the first event of a run: whether the clock is behind the last entry of the trail. 0 and *behind_us
 * (0: it is not), -1. */
int clock_behind(struct service *s, int64_t *behind_us);

/* Tell that. 0, -1. */
int clock_tell_behind(struct service *s, int64_t behind_us);

/* Look, and record a step. */
void clock_pulse(struct service *s);

#endif
