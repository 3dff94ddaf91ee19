/* Sets of SHA-256 sums, in their order. */
#ifndef SUM_SET_H
#define SUM_SET_H

#include <stdbool.h>
#include <stddef.h>
#include "yoke/event.h"

/* Zero-initialise. */
struct sum_set {
	struct sha *sum; /* ascending, each once */
	size_t n, cap;
	bool failed; /* memory ran out: the set is not whole */
};

void sum_set_add(struct sum_set *s, const struct sha *sum);

/* Add every program that the parts name. */
void sum_set_add_parts(struct sum_set *s, const struct event_part *part, uint32_t parts);

/* Its place in s->sum; s->n when it is not in it. */
size_t sum_set_find(const struct sum_set *s, const struct sha *sum);

void sum_set_free(struct sum_set *s);

#endif
