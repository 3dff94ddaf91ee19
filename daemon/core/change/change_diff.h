/*
 * The smallest set of elements to take out of one sequence and put into another (Myers, An O(ND)
 * Difference Algorithm and Its Variations, Algorithmica 1986), in linear space.
 */
#ifndef CHANGE_DIFF_H
#define CHANGE_DIFF_H

#include <stddef.h>
#include <stdint.h>

/*
 * Mark what is not common: a_gone[i] and b_gone[j] are set to 1, the others to 0; the elements with
 * 0 are the same, in the same order, on both sides. The marks are minimal as long as the search
 * stays within CHANGE_DIFF_WORK steps; past that they are still right, but may be more than needed.
 * an and bn below 2^31. 0, or -1 without memory.
 */
int change_diff(
    const uint64_t *a, size_t an, uint8_t *a_gone, const uint64_t *b, size_t bn, uint8_t *b_gone);

/* About a second of work: two texts that have nearly nothing in common must not hold up the caller.
 */
#define CHANGE_DIFF_WORK ((uint64_t)1 << 29)

#endif
