/* Blocks that stand in both programs, but in another place. */
#ifndef CHANGE_MOVE_H
#define CHANGE_MOVE_H

#include <stddef.h>
#include "change_side.h"

/* The n blocks of a from a on are those of b from b on. */
struct change_move {
	size_t a, b, n;
};

/*
 * Find runs among the blocks that change_diff marked as gone in both: three blocks or more in a
 * row, or fewer that stand nowhere else. Their marks become CHANGE_SIDE_MOVED. *moves, in the order
 * of a, belongs to the caller, who frees it. Programs that differ in more than a million blocks are
 * not searched. 0, -1 without memory.
 */
int change_move_find(
    struct change_side *a, struct change_side *b, struct change_move **moves, size_t *n);

#endif
