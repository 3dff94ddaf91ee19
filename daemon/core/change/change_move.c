#include "change_move.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "nc.h"

enum {
	GONE_MAX = 1 << 20, /* blocks of one side that are searched */
	TRIES_MAX = 32,     /* places in b at which one run may begin */
	SURE = 3,           /* blocks in a row that are no coincidence */
};
#define WORK_MAX ((uint64_t)1 << 26) /* comparisons of blocks in all */

#define NONE UINT32_MAX

/* The blocks of b that are gone, found by their hash. */
struct entry {
	uint64_t hash;
	uint32_t first, last; /* places in b's list; NONE: the entry is free */
	uint32_t in_a, in_b;  /* blocks of either program that have this hash */
};

struct search {
	struct change_side *a, *b;
	struct entry *table;
	size_t mask;
	uint32_t *block, *next; /* b's list: block, and the next place with the same hash */
	uint64_t work;
	struct change_move *moves;
	size_t n, cap;
};

static size_t count(const struct change_side *s)
{
	size_t n = 0;

	for (size_t i = 0; i < s->blocks; i++)
		n += s->gone[i] != 0;
	return n;
}

static struct entry *find(const struct search *s, uint64_t hash)
{
	size_t i = hash & s->mask;

	while (s->table[i].first != NONE && s->table[i].hash != hash)
		i = (i + 1) & s->mask;
	return &s->table[i];
}

static int begin(struct search *s, size_t gone)
{
	size_t size = 16, n = 0;

	while (size < gone * 2)
		size *= 2;
	s->mask = size - 1;
	s->table = calloc(size, sizeof(*s->table));
	s->block = calloc(gone, sizeof(*s->block));
	s->next = calloc(gone, sizeof(*s->next));
	if (!s->table || !s->block || !s->next)
		return -1;
	for (size_t i = 0; i < size; i++)
		s->table[i].first = NONE;
	for (size_t i = 0; i < s->b->blocks; i++) {
		struct entry *e;

		if (!s->b->gone[i])
			continue;
		e = find(s, s->b->hash[i]);
		s->block[n] = (uint32_t)i;
		s->next[n] = NONE;
		if (e->first == NONE)
			*e = (struct entry){s->b->hash[i], (uint32_t)n, (uint32_t)n, 0, 0};
		else
			s->next[e->last] = (uint32_t)n;
		e->last = (uint32_t)n++;
	}
	for (size_t i = 0; i < s->a->blocks; i++)
		find(s, s->a->hash[i])->in_a++;
	for (size_t i = 0; i < s->b->blocks; i++)
		find(s, s->b->hash[i])->in_b++;
	return 0;
}

/* How many blocks from i of a and k of b on are the same, and gone in both. */
static size_t run(struct search *s, size_t i, size_t k)
{
	size_t n = 0;

	while (i + n < s->a->blocks && k + n < s->b->blocks &&
	       s->a->gone[i + n] == CHANGE_SIDE_GONE && s->b->gone[k + n] == CHANGE_SIDE_GONE &&
	       s->a->hash[i + n] == s->b->hash[k + n])
		n++;
	s->work += n + 1;
	return n;
}

static bool nowhere_else(const struct search *s, size_t i, size_t n)
{
	for (; n > 0; i++, n--) {
		const struct entry *e = find(s, s->a->hash[i]);

		if (e->in_a != 1 || e->in_b != 1)
			return false;
	}
	return true;
}

/* Hashes only propose: a move is one when its blocks are the same to the letter. */
static int proven(const struct search *s, size_t i, size_t k, size_t n)
{
	struct change_canon x = {.call = s->a->call}, y = x;
	int result = 1;

	for (size_t m = 0; m < n && result == 1; m++) {
		struct change_span p = change_side_block(s->a, i + m);
		struct change_span q = change_side_block(s->b, k + m);

		if (p.n > NC_LINE_MAX || q.n > NC_LINE_MAX) /* not read to its end */
			result = p.n == q.n && memcmp(p.s, q.s, p.n) == 0;
		else if (change_canon_block(&x, p.s, p.n) < 0 ||
		         change_canon_block(&y, q.s, q.n) < 0)
			result = -1;
		else
			result = x.n == y.n && memcmp(x.s, y.s, x.n) == 0;
	}
	change_canon_free(&x);
	change_canon_free(&y);
	return result;
}

static int add(struct search *s, struct change_move m)
{
	if (s->n == s->cap) {
		size_t cap = s->cap ? s->cap * 2 : 16;
		struct change_move *v = reallocarray(s->moves, cap, sizeof(*v));

		if (!v)
			return -1;
		s->moves = v;
		s->cap = cap;
	}
	s->moves[s->n++] = m;
	memset(s->a->gone + m.a, CHANGE_SIDE_MOVED, m.n);
	memset(s->b->gone + m.b, CHANGE_SIDE_MOVED, m.n);
	return 0;
}

/* The longest run that begins at block i of a; n 0 when there is none worth the name. */
static struct change_move longest(struct search *s, size_t i)
{
	const struct entry *e = find(s, s->a->hash[i]);
	struct change_move best = {i, 0, 0};
	uint32_t at = e->first;

	for (int tries = 0; at != NONE && tries < TRIES_MAX; tries++, at = s->next[at]) {
		size_t n = run(s, i, s->block[at]);

		if (n > best.n)
			best = (struct change_move){i, s->block[at], n};
	}
	if (best.n < SURE && !nowhere_else(s, i, best.n))
		best.n = 0;
	return best;
}

static int look(struct search *s)
{
	for (size_t i = 0; i < s->a->blocks && s->work < WORK_MAX; i++) {
		struct change_move m;
		int sure;

		if (s->a->gone[i] != CHANGE_SIDE_GONE)
			continue;
		m = longest(s, i);
		if (m.n == 0)
			continue;
		sure = proven(s, m.a, m.b, m.n);
		if (sure < 0 || (sure && add(s, m) < 0))
			return -1;
		if (sure)
			i += m.n - 1;
	}
	return 0;
}

int change_move_find(
    struct change_side *a, struct change_side *b, struct change_move **moves, size_t *n)
{
	struct search s = {.a = a, .b = b};
	size_t gone_a = count(a), gone_b = count(b);
	int result = 0;

	*moves = NULL;
	*n = 0;
	if (gone_a == 0 || gone_b == 0 || gone_a > GONE_MAX || gone_b > GONE_MAX)
		return 0;
	if (begin(&s, gone_b) < 0 || look(&s) < 0) {
		free(s.moves);
		result = -1;
	} else {
		*moves = s.moves;
		*n = s.n;
	}
	free(s.table);
	free(s.block);
	free(s.next);
	return result;
}
