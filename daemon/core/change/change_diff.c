#include "change_diff.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/*
 * x counts elements of a, y of b. A path goes from the upper left to the lower right corner of a
 * box; a step right takes an element out of a, a step down puts one of b in, a diagonal step is a
 * common element. Diagonal k holds the points with x - y = k. far[k] is the furthest x that a path
 * with the cost at hand reaches on diagonal k from the upper left, near[k] the same from the lower
 * right. The two searches meet in the middle of a shortest path; then each half is searched alone.
 */
enum { NONE = INT32_MIN, LEAST_ROUNDS = 64 };

struct search {
	const uint64_t *a, *b;
	uint8_t *a_gone, *b_gone;    /* by the places in at_a and at_b */
	const uint32_t *at_a, *at_b; /* where the elements stood before others were left out */
	int32_t *far, *near;         /* index 0 is diagonal `lowest` */
	int32_t lowest;
	uint64_t work;
};

struct box {
	int32_t x0, x1, y0, y1;
};

struct point {
	int32_t x, y;
};

/* One round from the upper left. True when it met the other search; *cut is then where. */
static bool round_far(
    struct search *s, const struct box *b, int32_t d, bool meet, struct point *cut)
{
	int32_t *far = s->far - s->lowest, *near = s->near - s->lowest;
	int32_t mid = b->x0 - b->y0, back = b->x1 - b->y1;
	int32_t low = b->x0 - b->y1, high = b->x1 - b->y0;
	int32_t from = mid - d, to = mid + d;

	from += from < low ? (low - from + 1) / 2 * 2 : 0;
	to -= to > high ? (to - high + 1) / 2 * 2 : 0;
	for (int32_t k = from; k <= to; k += 2) {
		int32_t right = d > 0 && k - 1 >= mid - d + 1 && k > low ? far[k - 1] : NONE;
		int32_t down = d > 0 && k + 1 <= mid + d - 1 && k < high ? far[k + 1] : NONE;
		int32_t x = d == 0 ? b->x0 : NONE, start;

		if (right != NONE && right + 1 <= b->x1)
			x = right + 1;
		if (down != NONE && down - k <= b->y1 && down > x)
			x = down;
		start = x;
		while (x != NONE && x < b->x1 && x - k < b->y1 && s->a[x] == s->b[x - k])
			x++;
		s->work += (uint64_t)(x - start) + 1;
		far[k] = x;
		if (x != NONE && meet && k >= back - (d - 1) && k <= back + (d - 1) &&
		    near[k] != NONE && x >= near[k]) {
			*cut = (struct point){x, x - k};
			return true;
		}
	}
	return false;
}

/* The same from the lower right. */
static bool round_near(
    struct search *s, const struct box *b, int32_t d, bool meet, struct point *cut)
{
	int32_t *far = s->far - s->lowest, *near = s->near - s->lowest;
	int32_t mid = b->x1 - b->y1, front = b->x0 - b->y0;
	int32_t low = b->x0 - b->y1, high = b->x1 - b->y0;
	int32_t from = mid - d, to = mid + d;

	from += from < low ? (low - from + 1) / 2 * 2 : 0;
	to -= to > high ? (to - high + 1) / 2 * 2 : 0;
	for (int32_t k = from; k <= to; k += 2) {
		int32_t up = d > 0 && k - 1 >= mid - d + 1 && k > low ? near[k - 1] : NONE;
		int32_t left = d > 0 && k + 1 <= mid + d - 1 && k < high ? near[k + 1] : NONE;
		int32_t x = d == 0 ? b->x1 : NONE, start;

		if (left != NONE && left - 1 >= b->x0)
			x = left - 1;
		if (up != NONE && up - k >= b->y0 && (x == NONE || up < x))
			x = up;
		start = x;
		while (x != NONE && x > b->x0 && x - k > b->y0 && s->a[x - 1] == s->b[x - k - 1])
			x--;
		s->work += (uint64_t)(start - x) + 1;
		near[k] = x;
		if (x != NONE && meet && k >= front - d && k <= front + d && far[k] != NONE &&
		    far[k] >= x) {
			*cut = (struct point){x, x - k};
			return true;
		}
	}
	return false;
}

/* Where the forward search stands furthest: a right cut, though perhaps not on a shortest path. */
static struct point furthest(const struct search *s, const struct box *b, int32_t d)
{
	const int32_t *far = s->far - s->lowest;
	int32_t mid = b->x0 - b->y0;
	struct point best = {b->x0, b->y0};

	for (int32_t k = mid - d; k <= mid + d; k += 2) {
		if (k < b->x0 - b->y1 || k > b->x1 - b->y0 || far[k] == NONE)
			continue;
		if ((int64_t)far[k] * 2 - k > (int64_t)best.x + best.y)
			best = (struct point){far[k], far[k] - k};
	}
	return best;
}

/* A point on a shortest path, not a corner. The box has no common first or last element and neither
 * side is empty. */
static struct point middle(struct search *s, const struct box *b)
{
	bool odd = ((b->x1 - b->x0) - (b->y1 - b->y0)) & 1;
	struct point cut;

	for (int32_t d = 0;; d++) {
		if (round_far(s, b, d, odd, &cut) || round_near(s, b, d, !odd, &cut))
			return cut;
		if (d >= LEAST_ROUNDS && s->work > CHANGE_DIFF_WORK)
			return furthest(s, b, d);
	}
}

static void trim(const struct search *s, struct box *b)
{
	while (b->x0 < b->x1 && b->y0 < b->y1 && s->a[b->x0] == s->b[b->y0]) {
		b->x0++;
		b->y0++;
	}
	while (b->x0 < b->x1 && b->y0 < b->y1 && s->a[b->x1 - 1] == s->b[b->y1 - 1]) {
		b->x1--;
		b->y1--;
	}
}

/* The smaller half is searched in a call, the larger here: the depth stays below the number of bits
 * of a length. */
static void search(struct search *s, struct box b)
{
	for (;;) {
		struct box first, second;
		struct point cut;

		trim(s, &b);
		if (b.x0 == b.x1 || b.y0 == b.y1)
			break;
		cut = middle(s, &b);
		first = (struct box){b.x0, cut.x, b.y0, cut.y};
		second = (struct box){cut.x, b.x1, cut.y, b.y1};
		if ((int64_t)cut.x - b.x0 + cut.y - b.y0 < (int64_t)b.x1 - cut.x + b.y1 - cut.y) {
			search(s, first);
			b = second;
		} else {
			search(s, second);
			b = first;
		}
	}
	for (int32_t x = b.x0; x < b.x1; x++)
		s->a_gone[s->at_a[x]] = 1;
	for (int32_t y = b.y0; y < b.y1; y++)
		s->b_gone[s->at_b[y]] = 1;
}

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

/* Both sides without common beginning and end. */
static int diff_middle(
    const uint64_t *a, size_t an, uint8_t *a_gone, const uint64_t *b, size_t bn, uint8_t *b_gone)
{
	uint64_t *a_sorted = sorted_copy(a, an), *b_sorted = sorted_copy(b, bn);
	uint64_t *ka = malloc((an + 1) * sizeof(*ka)), *kb = malloc((bn + 1) * sizeof(*kb));
	uint32_t *at_a = malloc((an + 1) * sizeof(*at_a)), *at_b = malloc((bn + 1) * sizeof(*at_b));
	int32_t *vectors = NULL;
	int result = -1;
	size_t kan, kbn;

	if (!a_sorted || !b_sorted || !ka || !kb || !at_a || !at_b)
		goto out;
	kan = leave_out(a, an, a_gone, b_sorted, bn, ka, at_a);
	kbn = leave_out(b, bn, b_gone, a_sorted, an, kb, at_b);
	vectors = malloc(2 * (kan + kbn + 3) * sizeof(*vectors));
	if (!vectors)
		goto out;
	search(&(struct search){.a = ka,
	           .b = kb,
	           .a_gone = a_gone,
	           .b_gone = b_gone,
	           .at_a = at_a,
	           .at_b = at_b,
	           .far = vectors,
	           .near = vectors + kan + kbn + 3,
	           .lowest = -(int32_t)kbn - 1},
	    (struct box){0, (int32_t)kan, 0, (int32_t)kbn});
	result = 0;
out:
	free(vectors);
	free(at_b);
	free(at_a);
	free(kb);
	free(ka);
	free(b_sorted);
	free(a_sorted);
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
