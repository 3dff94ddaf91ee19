/*
 * Looking at a share between orders (CARRY_LISTEN on a share): every look_ms the programs of all items
 * are looked at, by size and times first and by their bytes when those differ. What is no longer what
 * was expected is handed over as CARRY_ROLE_UNASKED, a program that is gone as CARRY_ROLE_GONE; each
 * change once. The share is not held open in between, and nothing is written. Ends when stop is asked.
 */
#ifndef LOOK_H
#define LOOK_H

#include "job.h"

/* Look until stop is asked. The job's fault is filled at the end. */
void look_run(struct job *j);

#endif
