#include "change_diff.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "change_search.h"

static int by_value(const void *p, const void *q)
{
	uint64_t a = *(const uint64_t *)p, b = *(const uint64_t *)q;

	return a < b ? -1 : a > b;
}

static bool among(uint64_t v, const uint64_t *sorted, size_t n)
{
	return bsearch(&v, sorted, n, sizeof(v), by_value) != NULL;
}

/*
 * Leave out what the other side does not have at all: no common sequence can hold it, so the result
 * stays minimal. kept and at get what remains; returns how much.
 */
static size_t leave_out(const uint64_t *v, size_t n, uint8_t *gone, const uint64_t *other,
    size_t others, uint64_t *kept, uint32_t *at)
{
	size_t out = 0;

	for (size_t i = 0; i < n; i++) {
		if (!among(v[i], other, others)) {
			gone[i] = 1;
			continue;
		}
		kept[out] = v[i];
		at[out++] = (uint32_t)i;
	}
	return out;
}

static uint64_t *sorted_copy(const uint64_t *v, size_t n)
{
	uint64_t *copy = malloc((n + 1) * sizeof(*copy));

	if (!copy)
		return NULL;
	memcpy(copy, v, n * sizeof(*copy));
	qsort(copy, n, sizeof(*copy), by_value);
	return copy;
}

/* One side with what the other does not have left out. */
struct shared {
	uint64_t *kept;
	uint32_t *at;  /* where each stood */
	uint8_t *gone; /* the search's marks */
	size_t n;
};

static int shared_make(struct shared *s, const uint64_t *v, size_t n, uint8_t *gone,
    const uint64_t *other, size_t others)
{
	uint64_t *sorted = sorted_copy(other, others);

	s->kept = malloc((n + 1) * sizeof(*s->kept));
	s->at = malloc((n + 1) * sizeof(*s->at));
	s->gone = calloc(n + 1, 1);
	if (sorted && s->kept && s->at && s->gone)
		s->n = leave_out(v, n, gone, sorted, others, s->kept, s->at);
	free(sorted);
	return sorted && s->kept && s->at && s->gone ? 0 : -1;
}

/* Put the marks where the elements stood, and free. */
static void shared_free(struct shared *s, uint8_t *gone)
{
	for (size_t i = 0; i < s->n; i++)
		gone[s->at[i]] = s->gone[i];
	free(s->kept);
	free(s->at);
	free(s->gone);
}

/*
 * Both sides without common beginning and end. Programs mostly differ in a few places: then the
 * search alone is quickest. When it is not done within a few steps for each element, what only one
 * side has is sorted out first.
 */
static int diff_middle(
    const uint64_t *a, size_t an, uint8_t *a_gone, const uint64_t *b, size_t bn, uint8_t *b_gone)
{
	struct shared sa = {0}, sb = {0};
	int result = change_search(a, an, a_gone, b, bn, b_gone, 8 * (an + bn), true);

	if (result <= 0)
		return result;
	memset(a_gone, 0, an);
	memset(b_gone, 0, bn);
	result = -1;
	if (shared_make(&sa, a, an, a_gone, b, bn) == 0 &&
	    shared_make(&sb, b, bn, b_gone, a, an) == 0)
		result = change_search(
		    sa.kept, sa.n, sa.gone, sb.kept, sb.n, sb.gone, CHANGE_DIFF_WORK, false);
	shared_free(&sa, a_gone);
	shared_free(&sb, b_gone);
	return result;
}

int change_diff(
    const uint64_t *a, size_t an, uint8_t *a_gone, const uint64_t *b, size_t bn, uint8_t *b_gone)
{
	size_t first = 0, last = 0;

	memset(a_gone, 0, an);
	memset(b_gone, 0, bn);
	while (first < an && first < bn && a[first] == b[first])
		first++;
	while (first + last < an && first + last < bn && a[an - 1 - last] == b[bn - 1 - last])
		last++;
	if (first + last == an || first + last == bn) {
		memset(a_gone + first, 1, an - first - last);
		memset(b_gone + first, 1, bn - first - last);
		return 0;
	}
	return diff_middle(a + first, an - first - last, a_gone + first, b + first,
	    bn - first - last, b_gone + first);
}
