#include "change_search.h"

#include <stdbool.h>
#include <stdlib.h>

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
	uint8_t *a_gone, *b_gone;
	int32_t *far, *near; /* index 0 is diagonal `lowest` */
	int32_t lowest;
	uint64_t work, most; /* steps made, and how many may be made */
	bool exact;          /* give up rather than cut where it may not be shortest */
	bool gave_up;
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
		s->gave_up = s->exact && s->work > s->most;
		if (s->gave_up || (d >= LEAST_ROUNDS && s->work > s->most))
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
	while (!s->gave_up) {
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
		s->a_gone[x] = 1;
	for (int32_t y = b.y0; y < b.y1; y++)
		s->b_gone[y] = 1;
}

int change_search(const uint64_t *a, size_t an, uint8_t *a_gone, const uint64_t *b, size_t bn,
    uint8_t *b_gone, uint64_t most, bool exact)
{
	struct search s = {
	    .a = a, .b = b, .a_gone = a_gone, .b_gone = b_gone, .most = most, .exact = exact};
	size_t diagonals = an + bn + 3;
	int32_t *vectors = malloc(2 * diagonals * sizeof(*vectors));

	if (!vectors)
		return -1;
	s.far = vectors;
	s.near = vectors + diagonals;
	s.lowest = -(int32_t)bn - 1;
	search(&s, (struct box){0, (int32_t)an, 0, (int32_t)bn});
	free(vectors);
	return s.gave_up ? 1 : 0;
}
