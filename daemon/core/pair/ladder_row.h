/* One row of a drawing: cells that hold a character each, in UTF-8 or in plain ASCII. */
#ifndef LADDER_ROW_H
#define LADDER_ROW_H

#include <stdbool.h>
#include <stddef.h>
#include "yoke/text.h"

enum { LADDER_WIDTH_MAX = 200 };

/* What lines, corners and arrows are made of. */
struct ladder_glyphs {
	const char *across, *down,
	    *open_down; /* a rung; a life line; one that waits or is missing */
	const char *left, *right,
	    *cross; /* where a rung meets the first, the last, a middle life line */
	const char *twice, *twice_left, *twice_right; /* an arrow that meets nothing */
	const char *to_right, *to_left, *fail;
	const char *corner[4],
	    *below; /* of a head: upper left and right, lower left and right; its line */
	const char *bar, *bar_down; /* the end of a life line */
	const char *more;           /* a life line where rungs are left out */
	const char *cut;            /* in place of text that does not fit */
};

extern const struct ladder_glyphs ladder_row_utf8, ladder_row_ascii;

struct ladder_row {
	size_t width; /* cells, at most LADDER_WIDTH_MAX */
	bool ascii;   /* text beyond ASCII is shown as ? */
	char cell[LADDER_WIDTH_MAX][5];
};

/* Begin an empty row. */
void ladder_row_begin(struct ladder_row *row, size_t width, bool ascii);

/* Put one glyph at x; outside the row nothing happens. */
void ladder_row_put(struct ladder_row *row, long x, const char *glyph);

/* Put glyph from x to end, end not included. */
void ladder_row_fill(struct ladder_row *row, long x, long end, const char *glyph);

/* Write text from x on, one cell per character; what cannot be shown is a ?. */
void ladder_row_text(struct ladder_row *row, long x, const char *s);

/* The same in at most max cells; what is cut is marked. */
void ladder_row_fit(struct ladder_row *row, long x, const char *s, size_t max);

/* Cells that the text takes. */
size_t ladder_row_cells(const char *s);

/* Append the row without blanks at its end, and a line end. */
void ladder_row_end(const struct ladder_row *row, struct text *out);

#endif
