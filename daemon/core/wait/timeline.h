/* The run of a result, timed: the traces of all channels in step. See yoke/timeline.h. */
#ifndef WAIT_TIMELINE_H
#define WAIT_TIMELINE_H

#include "wait.h"
#include "yoke/timeline.h"

/* What was proved, and the text that it was proved of. */
struct wait_timeline {
	const struct profile *profile;
	size_t n; /* channels in the result; channel i is channel number[i] of the machine */
	const int *number;
	struct wait_flow *const *flow;
	const void *const *bytes; /* of each, with its size */
	const size_t *size;
	const struct wait_result *result;
};

/* Fill *out, which holds zeros. 0; -1 without memory. out owns what wait_timeline_free frees. */
int wait_timeline(const struct wait_timeline *w, struct timeline *out);
void wait_timeline_free(struct timeline *t);

#endif
