/* The comments of a piece of a program, one after the other. */
#ifndef CHANGE_COMMENT_H
#define CHANGE_COMMENT_H

#include "change_side.h"

/* Plain data; a copy is a place to come back to. */
struct change_comments {
	const struct change_side *side;
	struct change_span whole, rest;
	uint64_t line;  /* of the beginning */
	size_t i, next; /* blocks not passed yet, up to the region's end */
};

/*
 * Between the common blocks i (-1: the beginning of the file) and next; comments of moved blocks,
 * between them and in front of them are left out: they went along.
 */
struct change_comments change_comment_region(const struct change_side *s, ptrdiff_t i, size_t next);

/* Those that went along with n moved blocks. */
struct change_comments change_comment_moved(const struct change_side *s, size_t first, size_t n);

/* The next one, with its delimiters. False when there is none. */
bool change_comment_next(struct change_comments *c, struct change_span *comment);

/* The line on which a comment of these begins. */
uint64_t change_comment_line(const struct change_comments *c, const struct change_span *comment);

#endif
