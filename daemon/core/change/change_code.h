/* Which kind of change a word makes, by its letter, its code and the block around it. */
#ifndef CHANGE_CODE_H
#define CHANGE_CODE_H

#include <stdbool.h>
#include "yoke/change.h"

struct change_block;
struct change_word;

/* What the two blocks hold that gives other words their meaning. */
struct change_code_context {
	bool call;   /* M98, M99, G65 to G67: P and L call and repeat */
	bool dwell;  /* G4: its words are a time */
	bool offset; /* G10, G50, G52, G92 with dimension words: its words set a zero point */
	bool wait;   /* a wait code stands in it: the partners' letter says who meets there */
	bool zero;   /* G54 to G59: P names the zero point, as in G54.1 P2 */
	bool limit;  /* G50 or G92 with S: the largest spindle speed */
};

void change_code_context(const struct profile *p, const struct change_block *a,
    const struct change_block *b, struct change_code_context *out);

/* Meanings of letters: ISO 6983-1; of codes: NISTIR 6556, tables 5 and 7, and for lathes common
 * practice. */
enum change_kind change_code_kind(const struct profile *p,
    const struct change_code_context *context, const struct change_word *w);

/*
 * True when two T words name the same tool with another offset: they differ in no more than the
 * last digits, those that name the offset in some channel of the machine.
 */
bool change_code_offset(
    const struct profile *p, const struct change_word *a, const struct change_word *b);

/*
 * Of two words with the same group, not CHANGE_CODE_FREE, in one block the later one counts, or
 * both act one after the other: their order means something. Groups of codes as in NISTIR 6556,
 * table 4, and for lathes common practice; wait codes are a group.
 */
unsigned change_code_group(const struct profile *p, const struct change_word *w);

#define CHANGE_CODE_FREE 0u

#endif
