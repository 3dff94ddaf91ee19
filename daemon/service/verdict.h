/* The verdict where the programmer looks: files in .yoke/ below the watched folder. */
#ifndef VERDICT_H
#define VERDICT_H

#include "judge.h"

/* The folder's name below the watched one; intake never looks into it. */
#define VERDICT_FOLDER ".yoke"

/*
 * Write .yoke/[AREA/]JOB-REVISION.txt and .json, each whole or not at all, with the time of the
 * decision as the files' time. They can be made again
 * from the vault at any time, so a failure (a read-only share) is told once and nothing else
 * depends on it.
 */
void verdict_write(struct service *s, const struct judgement *j);

/* Whether both files lie there with the time of the decision that stands on this program's pair. */
bool verdict_is_there(struct service *s, const struct judge_arrival *in);

#endif
