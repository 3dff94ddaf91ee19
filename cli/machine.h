/* A machine of the API in words. */
#ifndef MACHINE_H
#define MACHINE_H

#include <jansson.h>
#include "yoke/text.h"

/* What the machine holds, one line with its end: pair, read back or not, proven or not; a state
 * that must not be run in capitals and with what to do. */
void machine_say(struct text *t, const json_t *machine);

/*
 * Each thing that a person must not overlook or wants to know beside the pair, one call each:
 * split, unknown, changed, locked, offline, abandoned, what is being carried, how many orders wait.
 */
void machine_notes(const json_t *machine, void (*note)(void *ctx, const char *s), void *ctx);

/* The same on stdout, as prose. */
void machine_print_notes(const json_t *machine);

/* The sum of what each channel of a machine or pair holds, a line each; "not known" without one. */
void machine_parts(struct text *t, const json_t *machine);

/* A channel's progress, without a line end: what is done, bytes, percent, block, time left. */
void machine_progress(struct text *t, const json_t *progress);

#endif
