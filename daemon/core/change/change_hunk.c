#include "change_hunk.h"

#include <stdint.h>
#include <stdlib.h>
#include "change_side.h"
#include "change_words.h"

#define NONE ((size_t)-1)

/* Words of one block with the text that they point into. */
struct cut {
	struct change_canon canon;
	struct change_block block;
};

static int read_cut(const struct change_side *s, size_t i, struct cut *c)
{
	struct change_span text = change_side_block(s, i);

	if (change_canon_block(&c->canon, text.s, text.n) < 0)
		return -1;
	change_words_cut(c->canon.s, c->canon.n, &c->block);
	return 0;
}

/* best[i][k]: the most likeness that blocks from i and from k on can have together. */
static int fill(uint32_t *best, const struct change_side *a, size_t a0, size_t an,
    const struct change_side *b, size_t b0, size_t bn)
{
	struct cut *x = calloc(2, sizeof(*x));
	int result = -1;

	if (!x)
		return -1;
	for (size_t i = an; i-- > 0;) {
		if (read_cut(a, a0 + i, &x[0]) < 0)
			goto out;
		for (size_t k = bn; k-- > 0;) {
			uint32_t *at = best + i * (bn + 1) + k;
			uint32_t skip = at[1] > at[bn + 1] ? at[1] : at[bn + 1];
			unsigned alike;

			if (read_cut(b, b0 + k, &x[1]) < 0)
				goto out;
			alike = change_words_alike(&x[0].block, &x[1].block);
			at[0] = alike > 0 && at[bn + 2] + alike >= skip ? at[bn + 2] + alike : skip;
		}
	}
	result = 0;
out:
	change_canon_free(&x[0].canon);
	change_canon_free(&x[1].canon);
	free(x);
	return result;
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

int change_hunk_pair(const struct change_side *a, size_t a0, size_t a1, const struct change_side *b,
    size_t b0, size_t b1, change_hunk_fn *fn, void *ctx)
{
	size_t an = a1 - a0, bn = b1 - b0;
	uint32_t *best;
	int result;

	if (an == 0 || bn == 0 || an > CHANGE_HUNK_CELLS / bn)
		return in_sequence(a0, a1, b0, b1, fn, ctx);
	best = calloc((an + 1) * (bn + 1), sizeof(*best));
	if (!best)
		return -1;
	result = fill(best, a, a0, an, b, b0, bn);
	if (result == 0)
		result = follow(best, a0, an, b0, bn, fn, ctx);
	free(best);
	return result;
}
