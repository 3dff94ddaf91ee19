/*
 * Asking a machine whether it runs, before a program of it is replaced. Who cannot be asked, or does
 * not answer, counts as running: nothing is replaced on a guess.
 */
#ifndef RUNNING_H
#define RUNNING_H

#include "job.h"

/*
 * Ask, for all channels of the order: a machine whose one channel stands still may run on the other.
 * there: whether the share's root has a file of this name: 1, 0, or a negative errno. Heartbeats go on
 * meanwhile. 0: nothing runs, or nobody is to be asked; -1 with the fault set: RUNNING, CANCELLED.
 */
int running_check(struct job *j, int (*there)(void *ctx, const char *name), void *ctx);

/* True when that is a file's being there, or not being there, in the share's root. */
bool running_by_file(const struct job *j);

#endif
