/* Which of the blocks that were taken out belong to which of those that were put in. */
#ifndef CHANGE_HUNK_H
#define CHANGE_HUNK_H

#include <stddef.h>
#include <stdint.h>

struct change_side;

/* Called in order, with (size_t)-1 for "none" on one side. 0 to go on. */
typedef int change_hunk_fn(void *ctx, size_t a, size_t b);

/* Bounds on the care that is taken: pairs and bytes of one hunk, comparisons of words in all. */
enum { CHANGE_HUNK_CELLS = 4096, CHANGE_HUNK_BYTES = 4 << 20, CHANGE_HUNK_WORK = 1 << 28 };

/*
 * Pair a's blocks [a0, a1) with b's [b0, b1) so that the blocks of a pair are as alike as can be
 * and the order is kept; blocks that have nothing in common stay alone. Beyond the bounds blocks
 * are paired in sequence. *work counts comparisons over all calls; the caller sets it to 0 first.
 * 0, -1 without memory, or what fn returned.
 */
int change_hunk_pair(const struct change_side *a, size_t a0, size_t a1, const struct change_side *b,
    size_t b0, size_t b1, uint64_t *work, change_hunk_fn *fn, void *ctx);

#endif
