/* Two texts line by line: whether they are the same but for line ends and filler, and what their
 * comments say. */
#ifndef CHANGE_LINES_H
#define CHANGE_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A piece of a file. */
struct change_span {
	const char *s;
	size_t n;
};

/*
 * True when both hold the same lines. Line ends of any kind, blank lines, blanks at the end of a
 * line and filler (NUL, DEL, SUB) at its beginning and end do not count; nothing inside a line is
 * passed over.
 */
bool change_lines_same(struct change_span a, struct change_span b);

/*
 * Take the next comment, ( ... ) or ; ..., off the front of rest. False when there is none. Its
 * delimiters belong to it.
 */
bool change_lines_comment(struct change_span *rest, struct change_span *comment);

/* The first line of a span, without its end. */
struct change_span change_lines_first(struct change_span span);

/* How many lines end in the n bytes at s: LF, CR LF, CR CR LF and a lone CR are one end each. */
uint64_t change_lines_count(const char *s, size_t n);

#endif
