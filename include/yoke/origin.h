/*
 * Which version of a program a block comes from: the last one in which the block was changed. Bytes
 * in, facts out.
 *
 * A block keeps its origin when it is moved, gets another sequence number, or leads to the same blocks
 * under their new numbers, and when only comments, blanks, the way a number is written or the order of
 * words differ: what yoke/change.h counts as no change of a block's meaning. A block that is there twice now and was there
 * once is new in one place. A block that was taken out and put in again later is new.
 */
#ifndef YOKE_ORIGIN_H
#define YOKE_ORIGIN_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/profile.h"

struct change_origin;

/* NULL without memory. The profile must outlive it. */
struct change_origin *change_origin_new(const struct profile *p);
void change_origin_free(struct change_origin *o);

/*
 * The next version, the oldest first; they are numbered from 0. bytes (below 4 GiB) stay the caller's
 * and must stay where they are until the next version was added, those of the last one until the end.
 * Memory: about 30 bytes for each block of two versions. 0; -1 without memory, and nothing more is to be asked.
 */
int change_origin_add(struct change_origin *o, const char *bytes, size_t n);

/* A block of the last version. Lines from 1. */
struct change_origin_place {
	uint64_t line;
	const char *text; /* its bytes, without the line end; not NUL-terminated */
	size_t n;
	uint32_t version;      /* in which it was last changed, or came in */
	uint64_t version_line; /* its line there */
	uint64_t before_line;  /* of the block in the version before that it took the place of; 0: none */
};

/*
 * Each block of the last version that query means, in order: "N120" by its sequence number (leading
 * zeros do not count, and a number alone on its line belongs to the next block), anything else by its
 * words, as they are compared; both when the query has both. Its first line counts. fn returns 0 to go
 * on. How many there were; -1 without memory, or when fn returned below 0. A query that says nothing means
 * nothing.
 */
int change_origin_find(struct change_origin *o, const char *query,
    int (*fn)(void *ctx, const struct change_origin_place *place), void *ctx);

#endif
