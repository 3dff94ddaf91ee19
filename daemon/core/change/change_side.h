/* One of the two programs: its blocks as hashes and places. 16 bytes for each block, whatever its
 * length. */
#ifndef CHANGE_SIDE_H
#define CHANGE_SIDE_H

#include <stddef.h>
#include <stdint.h>
#include "change_canon.h"
#include "change_lines.h"
#include "yoke/profile.h"

/* What a block is to the other program. */
enum {
	CHANGE_SIDE_COMMON,
	CHANGE_SIDE_GONE,  /* it is not there; set by change_diff */
	CHANGE_SIDE_MOVED, /* it is in another place; set by change_move_find */
};

/* Blocks that hold more than comments and blanks, in order. The bytes belong to the caller. */
struct change_side {
	const char *bytes;
	size_t n;
	const char *call; /* as in struct change_canon */
	uint64_t *hash;   /* of the canonical text */
	uint32_t *offset;
	uint32_t *line;
	uint8_t *gone; /* one of the above */
	size_t blocks, cap;
};

/* Read n bytes, below 4 GiB. call: as in struct change_canon, must outlive the side. 0, or -1
 * without memory. Free in either case. */
int change_side_read(struct change_side *s, const char *bytes, size_t n, const char *call);

/* From the beginning of block i to the beginning of block k, or to the end when there is no block
 * k. i == -1: from the beginning of the file. */
struct change_span change_side_span(const struct change_side *s, ptrdiff_t i, size_t k);

/* The text of block i, without its line end. */
struct change_span change_side_block(const struct change_side *s, size_t i);

void change_side_free(struct change_side *s);

#endif
