/* From the kernel's events to names that are to be looked at. */
#ifndef YOKE_INTAKE_EVENTS_H
#define YOKE_INTAKE_EVENTS_H

struct intake;

/*
 * Opens a fresh watch in place of the one there is: it knows nothing stale, above all no folder
 * that was moved while events were lost. Where it cannot be had the notice is given and in->watch
 * is NULL: the scan that must follow then polls everything.
 */
void events_open(struct intake *in);

/* Closes the watch, if there is one. */
void events_close(struct intake *in);

#endif
