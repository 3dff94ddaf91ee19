/*
 * The canonical text of a block: what remains when everything is taken away that does not change
 * what the machine does.
 *
 * Taken away: N number, comments, blanks and tabs, lower case, filler (NUL, DEL) around the block,
 * leading zeros, zeros after the last digit behind a point, the plus sign of a value. X1 and X1.
 * stay different (a factor of 1000 on many controls), except for zero, and except for the letters
 * whose numbers count or name something (G M T O S N D H L). Blanks and case: NISTIR 6556, 3.3;
 * zeros: 3.3.2.1. The parentheses of a wait that is written as a call are no comment.
 */
#ifndef CHANGE_CANON_H
#define CHANGE_CANON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Zero-initialise but for call. s is valid until the next change_canon_block with the same
 * structure; not NUL-terminated. */
struct change_canon {
	const char *call; /* the word of a wait written as a call, in upper case; NULL for none */
	char *s;
	size_t n, cap;
	char *bare; /* the block without comments and blanks */
	size_t bare_cap;
};

/*
 * Read the block of n bytes, without its line end, into c. n is 0 afterwards when the block holds
 * nothing but comments, blanks and an N number. A comment that is not closed is kept as it is: what
 * it hides is not guessed. Of a longer block NC_LINE_MAX bytes are read, as the reader does: memory
 * does not grow with it. 0, or -1 without memory.
 */
int change_canon_block(struct change_canon *c, const char *text, size_t n);

/* True when the letters in front of s[at], back to from, are the word of a call; any case. */
bool change_canon_calls(const char *call, const char *from, const char *at);

/* A hash of the canonical text. Equal hashes are a hint, not a proof. */
uint64_t change_canon_hash(const struct change_canon *c);

void change_canon_free(struct change_canon *c);

#endif
