#include "change_hunk.h"

#include <stdint.h>
#include <stdlib.h>
#include "change_side.h"
#include "change_words.h"

#define NONE ((size_t)-1)

/* One side of a hunk: its blocks cut into words, with the texts that they point into. */
struct cut {
	struct change_canon canon;
	struct change_block block;
};

static void cuts_free(struct cut *c, size_t n)
{
	for (size_t i = 0; c && i < n; i++)
		change_canon_free(&c[i].canon);
	free(c);
}

/* NULL without memory. *words: how many there are in all. */
static struct cut *cuts_new(const struct change_side *s, size_t first, size_t n, uint64_t *words)
{
	struct cut *c = calloc(n, sizeof(*c));

	*words = 0;
	for (size_t i = 0; c && i < n; i++) {
		struct change_span text = change_side_block(s, first + i);

		c[i].canon.call = s->call;
		if (change_canon_block(&c[i].canon, text.s, text.n) < 0) {
			cuts_free(c, n);
			return NULL;
		}
		change_words_cut(c[i].canon.s, c[i].canon.n, &c[i].block);
		*words += c[i].block.words;
	}
	return c;
}

/* best[i][k]: the most likeness that blocks from i and from k on can have together. */
static void fill(uint32_t *best, const struct cut *a, size_t an, const struct cut *b, size_t bn)
{
	for (size_t i = an; i-- > 0;) {
		for (size_t k = bn; k-- > 0;) {
			uint32_t *at = best + i * (bn + 1) + k;
			uint32_t skip = at[1] > at[bn + 1] ? at[1] : at[bn + 1];
			unsigned alike = change_words_alike(&a[i].block, &b[k].block);

			at[0] = alike > 0 && at[bn + 2] + alike >= skip ? at[bn + 2] + alike : skip;
		}
	}
}

static int follow(
    const uint32_t *best, size_t a0, size_t an, size_t b0, size_t bn, change_hunk_fn *fn, void *ctx)
{
	size_t i = 0, k = 0;
	int result = 0;

	while ((i < an || k < bn) && result == 0) {
		const uint32_t *at = best + i * (bn + 1) + k;

		if (i < an && (k == bn || at[0] == at[bn + 1]))
			result = fn(ctx, a0 + i++, NONE);
		else if (k < bn && (i == an || at[0] == at[1]))
			result = fn(ctx, NONE, b0 + k++);
		else
			result = fn(ctx, a0 + i++, b0 + k++);
	}
	return result;
}

static int in_sequence(size_t a0, size_t a1, size_t b0, size_t b1, change_hunk_fn *fn, void *ctx)
{
	int result = 0;

	while ((a0 < a1 || b0 < b1) && result == 0) {
		result = fn(ctx, a0 < a1 ? a0 : NONE, b0 < b1 ? b0 : NONE);
		a0 += a0 < a1;
		b0 += b0 < b1;
	}
	return result;
}

static size_t bytes(const struct change_side *s, size_t from, size_t to)
{
	return change_side_span(s, (ptrdiff_t)from, to).n;
}

int change_hunk_pair(const struct change_side *a, size_t a0, size_t a1, const struct change_side *b,
    size_t b0, size_t b1, uint64_t *work, change_hunk_fn *fn, void *ctx)
{
	size_t an = a1 - a0, bn = b1 - b0;
	struct cut *cut_a, *cut_b;
	uint32_t *best;
	uint64_t words_a, words_b;
	int result = -1;

	if (an == 0 || bn == 0 || an > CHANGE_HUNK_CELLS / bn ||
	    bytes(a, a0, a1) + bytes(b, b0, b1) > CHANGE_HUNK_BYTES || *work > CHANGE_HUNK_WORK)
		return in_sequence(a0, a1, b0, b1, fn, ctx);
	cut_a = cuts_new(a, a0, an, &words_a);
	cut_b = cuts_new(b, b0, bn, &words_b);
	best = calloc((an + 1) * (bn + 1), sizeof(*best));
	if (cut_a && cut_b && best) {
		*work += words_a * words_b;
		fill(best, cut_a, an, cut_b, bn);
		result = follow(best, a0, an, b0, bn, fn, ctx);
	}
	free(best);
	cuts_free(cut_b, bn);
	cuts_free(cut_a, an);
	return result;
}
