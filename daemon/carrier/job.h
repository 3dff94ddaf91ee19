/* One order as the carrier works on it: its programs, checked and mapped, and what comes of it. */
#ifndef JOB_H
#define JOB_H

#include "fault.h"
#include "parent.h"

struct job {
	struct parent *parent;
	const struct carry_order *order;
	const unsigned char *program[YOKE_CHANNELS_MAX]; /* item[i].size bytes, when carry_brings() */
	struct fault fault;
	char told[CARRY_TEXT_MAX + 1]; /* what a dry run found, when it ends well */
	char note[320]; /* more of how it went, for the outcome's sentence */
	char over[320]; /* the local ports that were used, for the outcome's sentence */
	struct carry_channel channel[YOKE_CHANNELS_MAX]; /* filled by the line's kind */
};

/*
 * Check an order beyond the form of its message, and map its programs: one kind of line for all
 * items, programs not empty, sealed, of the size and sum that the order names. fd: the order's
 * descriptors, which stay the caller's. summed: the sums were made here, of what is in them since. 0,
 * or -1 with the job's fault set (CARRY_ERROR_ORDER).
 */
int job_open(struct job *j, struct parent *parent, const struct carry_order *order, const int *fd,
    unsigned fds, bool summed);

/* Do it, by the kind of its line. Everything that comes of it stands in channel and fault. */
void job_run(struct job *j);

/* The outcome as a message. */
void job_outcome(const struct job *j, struct carry_outcome *out);

/* Unmap. */
void job_close(struct job *j);

#endif
