/* The search for the shortest way from one sequence to another, both without preparation. */
#ifndef CHANGE_SEARCH_H
#define CHANGE_SEARCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/*
 * Set to 1 in a_gone and b_gone, which the caller has cleared, what is not common. After `most`
 * steps: with exact the search gives up and the marks mean nothing; otherwise it goes on by the
 * furthest way it knows, and the marks are right but perhaps not minimal. Memory: 8 bytes for each
 * element of both, touched only as far as the search goes. 0, 1 when it gave up, -1 without memory.
 * an + bn below 2^31.
 */
int change_search(const uint64_t *a, size_t an, uint8_t *a_gone, const uint64_t *b, size_t bn,
    uint8_t *b_gone, uint64_t most, bool exact);

#endif
