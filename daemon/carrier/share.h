/*
 * Carry over a share: both programs or neither. The share is mounted here, or on a server (folder.h).
 *
 * CARRY_SEND: the old programs are read and handed over first; all new programs are written beside
 * them and compared; then each is renamed over the old one; when a rename fails the old ones are
 * put back. CARRY_INSPECT brings the share to all new or all old after an interrupted order.
 * CARRY_FETCH reads.
 *
 * In the outcome CARRY_HELD_OLD without a sum means that there was nothing before and is nothing
 * now, or that it was not looked at; CARRY_HELD_ABSENT that there is nothing, although something
 * was expected, or it is not known what was there before.
 */
#ifndef SHARE_H
#define SHARE_H

#include "job.h"

/* Do the order. The job's channels and fault are filled. */
void share_run(struct job *j);

#endif
