/*
 * Listening between orders (CARRY_LISTEN): what a control punches while nobody asked for it is handed
 * over as CARRY_ROLE_UNASKED, or as CARRY_ROLE_RAW with a note when it is damaged. Nothing is sent.
 *
 * A line that cannot be opened, or goes away, is tried again until it is there. Without characters
 * there is no work: the process sleeps until the next heartbeat. Ends when stop is asked; a text that
 * is just coming is heard to its end first.
 */
#ifndef LISTEN_H
#define LISTEN_H

#include "job.h"

/* Listen on the lines of all items. The job's fault is filled at the end, and each channel's asked. */
void listen_run(struct job *j);

#endif
