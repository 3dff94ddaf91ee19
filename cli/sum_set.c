#include "sum_set.h"

#include <stdlib.h>
#include <string.h>

/* The first place whose sum is not below this one. */
static size_t place(const struct sum_set *s, const struct sha *sum)
{
	size_t low = 0, high = s->n;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (memcmp(&s->sum[middle], sum, sizeof(*sum)) < 0)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

size_t sum_set_find(const struct sum_set *s, const struct sha *sum)
{
	size_t i = place(s, sum);

	return i < s->n && !memcmp(&s->sum[i], sum, sizeof(*sum)) ? i : s->n;
}

void sum_set_add(struct sum_set *s, const struct sha *sum)
{
	size_t i = place(s, sum);

	if (i < s->n && !memcmp(&s->sum[i], sum, sizeof(*sum)))
		return;
	if (s->n == s->cap) {
		size_t cap = s->cap ? 2 * s->cap : 64;
		struct sha *grown = reallocarray(s->sum, cap, sizeof(*grown));

		if (!grown) {
			s->failed = true;
			return;
		}
		s->sum = grown;
		s->cap = cap;
	}
	memmove(&s->sum[i + 1], &s->sum[i], (s->n - i) * sizeof(*sum));
	s->sum[i] = *sum;
	s->n++;
}

void sum_set_add_parts(struct sum_set *s, const struct event_part *part, uint32_t parts)
{
	for (uint32_t i = 0; i < parts; i++) {
		if (part[i].has_before)
			sum_set_add(s, &part[i].before);
		if (part[i].has_after)
			sum_set_add(s, &part[i].after);
	}
}

void sum_set_free(struct sum_set *s)
{
	free(s->sum);
	*s = (struct sum_set){0};
}
