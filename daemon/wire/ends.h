/*
 * A program with other line ends, piece by piece. A line end is what canonical.h takes for one: LF with
 * any CRs next to it, or CRs alone. Each becomes one of the wanted form, so that CR LF written as CR LF
 * stays as it is and none is doubled; a program that ends without one still does. All else is as it was.
 */
#ifndef ENDS_H
#define ENDS_H

#include <stddef.h>
#include <stdint.h>

/* Where in a line end the last piece ended. */
enum ends_state {
	ENDS_TEXT = 0, /* in none */
	ENDS_CRS,      /* behind CRs: one LF still belongs to it */
	ENDS_LF,       /* behind the LF: CRs still belong to it */
};

enum { ENDS_GROW = 2 }; /* most bytes that come out for one that goes in */

struct ends {
	const char *end; /* 1 or ENDS_GROW characters; outlives it */
	enum ends_state state;
};

/* Begin a program whose line ends are to be end: "\n" or "\r\n". */
void ends_begin(struct ends *e, const char *end);

/* The next n bytes; out has room for ENDS_GROW * n and is not in. Returns the bytes written. In however
 * many pieces a program comes, the same comes out; nothing is held back for the end. */
size_t ends_feed(struct ends *e, const void *in, size_t n, uint8_t *out);

#endif
