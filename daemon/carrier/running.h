/*
 * Asking a machine whether it runs, before a program of it is replaced. Who cannot be asked, or does
 * not answer, counts as running: nothing is replaced on a guess.
 */
#ifndef RUNNING_H
#define RUNNING_H

#include "job.h"

/* Whether the share's root has a file of this name: as a folder's root_has; when that is negative, *why
 * says why. */
typedef int running_there(void *ctx, const char *name, const char **why);

/*
 * Ask, for all channels of the order: a machine whose one channel stands still may run on the other.
 * Heartbeats go on meanwhile. 0: nothing runs, or nobody is to be asked; -1 with the fault set: RUNNING, CANCELLED.
 */
int running_check(struct job *j, running_there *there, void *ctx);

/* True when that is a file's being there, or not being there, in the share's root. */
bool running_by_file(const struct job *j);

#endif
