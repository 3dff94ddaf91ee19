/*
 * The blocks of a text that lies in memory, one after the other from any place in it. What a block
 * holds is what the reader hands out for it, but for filler between lines, which is no fault here.
 */
#ifndef NC_CURSOR_H
#define NC_CURSOR_H

#include "scan.h"

/* Fields are for reading; the words of the block at hand may be changed in scan.word. */
struct nc_cursor {
	const char *bytes;
	size_t n;
	uint64_t offset, line; /* of the line to come, its filler included */
	struct nc_block block; /* the one at hand; valid until the next one is read */
	struct nc_scan scan;
	char *copy; /* of a line without an end, or a long one: NC_LINE_MAX + 1 bytes; owned */
};

/* At the beginning of n bytes, which must outlive the cursor. False without memory. */
bool nc_cursor_begin(struct nc_cursor *c, const void *bytes, size_t n);
/* The word of a wait written as a call, as nc_reader_call; it must outlive the cursor. */
void nc_cursor_call(struct nc_cursor *c, const char *word);
void nc_cursor_end(struct nc_cursor *c);
/* To the line that begins at offset, or holds the first byte of its text there; from 1. The block
 * at hand stays. */
void nc_cursor_seek(struct nc_cursor *c, uint64_t offset, uint64_t line);
/* Read the next block; false at the end of the text, where the block at hand stays. */
bool nc_cursor_next(struct nc_cursor *c);

#endif
