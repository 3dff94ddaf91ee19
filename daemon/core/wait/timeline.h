/* The run of a result, timed: the traces of all channels in step. See yoke/timeline.h. */
#ifndef WAIT_TIMELINE_H
#define WAIT_TIMELINE_H

#include "wait.h"
#include "yoke/timeline.h"

/* One file: all its bytes, NULL when they are not at hand, and its name. */
struct wait_timeline_text {
	const void *bytes;
	size_t size;
	const char *name;
};

/* What was proved, and the texts that it was proved of. */
struct wait_timeline {
	const struct profile *profile;
	size_t n; /* channels in the result; channel i is channel number[i] of the machine */
	const int *number;
	struct wait_flow *const *flow;
	const struct wait_timeline_text *text; /* of each */
	/* of each, the sisters of its flow, in their order; a sister without bytes adds no time */
	const struct wait_timeline_text (*sister)[WAIT_SISTERS_MAX];
	const size_t *sisters;
	const struct wait_result *result;
};

/* Fill *out, which holds zeros; names and flows must outlive it. 0; -1 without memory. out owns
 * what wait_timeline_free frees. */
int wait_timeline(const struct wait_timeline *w, struct timeline *out);
void wait_timeline_free(struct timeline *t);

#endif
