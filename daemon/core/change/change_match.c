/*
 * The same steps as change.c: the smallest difference of the sequences of hashes, moves among what is
 * left, and pairs among what is left of that, in which only numbers of jumps may differ.
 */
#include "change_match.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "change_diff.h"
#include "change_hunk.h"
#include "change_label.h"
#include "change_move.h"
#include "change_words.h"
#include "nc.h"

struct matching {
	const struct profile *profile;
	struct change_words words;
	struct change_side *a, *b;
	struct change_match *match;
	struct change_refs refs_a, refs_b;
	struct change_canon canon_a, canon_b;
	uint64_t work; /* see change_hunk_pair */
};

/* Hashes only propose. 1 when two blocks are the same, 0 when not, -1 without memory. */
static int same(struct matching *m, size_t ia, size_t ib)
{
	struct change_span x = change_side_block(m->a, ia), y = change_side_block(m->b, ib);

	if (change_lines_same(x, y) || change_label_renumbered(x, y))
		return 1;
	if (x.n > NC_LINE_MAX || y.n > NC_LINE_MAX)
		return 0;
	if (change_canon_block(&m->canon_a, x.s, x.n) < 0 ||
	    change_canon_block(&m->canon_b, y.s, y.n) < 0)
		return -1;
	return m->canon_a.n == m->canon_b.n &&
	       memcmp(m->canon_a.s, m->canon_b.s, m->canon_a.n) == 0;
}

static int join(struct matching *m, size_t ia, size_t ib)
{
	int is = same(m, ia, ib);

	if (is < 0)
		return -1;
	if (is)
		m->match[ib].same = (uint32_t)ia;
	else
		m->match[ib].before = (uint32_t)ia;
	return 0;
}

/* A pair of what change_hunk_pair makes of a region. */
static int take(void *ctx, size_t ia, size_t ib)
{
	struct matching *m = ctx;
	struct change_span x, y;
	bool numbers = false;

	if (ia == (size_t)-1 || ib == (size_t)-1 || m->a->gone[ia] == CHANGE_SIDE_MOVED ||
	    m->b->gone[ib] == CHANGE_SIDE_MOVED)
		return 0;
	x = change_side_block(m->a, ia);
	y = change_side_block(m->b, ib);
	if (change_canon_block(&m->canon_a, x.s, x.n) < 0 ||
	    change_canon_block(&m->canon_b, y.s, y.n) < 0)
		return -1;
	if (!change_label_same(&m->refs_a, m->a, ia, &m->canon_a, &m->refs_b, m->b, ib, &m->canon_b,
	        &numbers)) {
		m->match[ib].before = (uint32_t)ia;
		return 0;
	}
	/* The same words in another order mean the same. */
	change_words_compare(m->profile, &m->canon_a, &m->canon_b, &m->words);
	if (numbers || (m->words.kinds == 0 && x.n <= NC_LINE_MAX && y.n <= NC_LINE_MAX))
		m->match[ib].same = (uint32_t)ia;
	else
		m->match[ib].before = (uint32_t)ia;
	return 0;
}

/* From one common block to the next, and what stands between them. */
static int walk(struct matching *m)
{
	size_t ia = 0, ib = 0;

	for (;;) {
		size_t a0 = ia, b0 = ib;

		while (ia < m->a->blocks && m->a->gone[ia])
			ia++;
		while (ib < m->b->blocks && m->b->gone[ib])
			ib++;
		if (change_hunk_pair(m->a, a0, ia, m->b, b0, ib, &m->work, take, m) < 0)
			return -1;
		if (ia == m->a->blocks || ib == m->b->blocks)
			return 0;
		if (join(m, ia++, ib++) < 0)
			return -1;
	}
}

/* True when the two have some word in common that says the same kind of thing. -1 without memory. */
static int alike(struct matching *m, size_t ia, size_t ib)
{
	struct change_span x = change_side_block(m->a, ia), y = change_side_block(m->b, ib);
	struct change_block cut_x, cut_y;

	if (change_canon_block(&m->canon_a, x.s, x.n) < 0 ||
	    change_canon_block(&m->canon_b, y.s, y.n) < 0)
		return -1;
	change_words_cut(m->canon_a.s, m->canon_a.n, &cut_x);
	change_words_cut(m->canon_b.s, m->canon_b.n, &cut_y);
	return change_words_alike(&cut_x, &cut_y) > 0;
}

/*
 * A block that was changed between two that were exchanged stands in no region with the one it was:
 * it is found beside a neighbour that stayed the same. taken: the blocks of a that have a successor.
 */
static int beside(struct matching *m, uint8_t *taken, size_t ib, bool after)
{
	size_t neighbour = after ? ib - 1 : ib + 1, ia;
	int is;

	if ((after && ib == 0) || neighbour >= m->b->blocks ||
	    m->match[neighbour].same == CHANGE_MATCH_NONE)
		return 0;
	ia = m->match[neighbour].same;
	if ((!after && ia == 0) || (after && ia + 1 >= m->a->blocks))
		return 0;
	ia = after ? ia + 1 : ia - 1;
	if (taken[ia])
		return 0;
	is = alike(m, ia, ib);
	if (is > 0) {
		taken[ia] = 1;
		m->match[ib].before = (uint32_t)ia;
	}
	return is;
}

static int find_beside(struct matching *m)
{
	uint8_t *taken = calloc(m->a->blocks + 1, 1);
	int result = taken ? 0 : -1;

	for (size_t i = 0; taken && i < m->b->blocks; i++) {
		uint32_t of = m->match[i].same != CHANGE_MATCH_NONE ? m->match[i].same
		                                                    : m->match[i].before;

		if (of != CHANGE_MATCH_NONE)
			taken[of] = 1;
	}
	for (size_t i = 0; i < m->b->blocks && result == 0; i++) {
		int is = 0;

		if (m->match[i].same != CHANGE_MATCH_NONE || m->match[i].before != CHANGE_MATCH_NONE)
			continue;
		is = beside(m, taken, i, true);
		if (is == 0)
			is = beside(m, taken, i, false);
		result = is < 0 ? -1 : 0;
	}
	free(taken);
	return result;
}

int change_match(const struct profile *profile, struct change_side *a, struct change_side *b,
    struct change_match *match)
{
	struct matching m = {.profile = profile, .a = a, .b = b, .match = match};
	struct change_move *move = NULL;
	size_t moves = 0;
	int result = -1;

	m.canon_a.call = a->call;
	m.canon_b.call = b->call;
	for (size_t i = 0; i < b->blocks; i++)
		match[i] = (struct change_match){CHANGE_MATCH_NONE, CHANGE_MATCH_NONE};
	if (change_diff(a->hash, a->blocks, a->gone, b->hash, b->blocks, b->gone) < 0 ||
	    change_move_find(a, b, &move, &moves) < 0 || change_label_find(a, &m.refs_a) < 0 ||
	    change_label_find(b, &m.refs_b) < 0)
		goto out;
	if (m.refs_a.many || m.refs_b.many)
		m.refs_a.n = m.refs_b.n = 0;
	for (size_t i = 0; i < moves; i++)
		for (size_t k = 0; k < move[i].n; k++)
			match[move[i].b + k].same = (uint32_t)(move[i].a + k);
	result = walk(&m) < 0 ? -1 : find_beside(&m);
out:
	change_canon_free(&m.canon_a);
	change_canon_free(&m.canon_b);
	change_label_free(&m.refs_a);
	change_label_free(&m.refs_b);
	free(move);
	return result;
}
