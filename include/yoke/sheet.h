/*
 * A sheet of paper in headings, paragraphs and tables: said once, written as text for a terminal
 * and as a page to print. Whatever is put in is made visible first, so that no program's text can
 * drive a terminal or a browser.
 */
#ifndef YOKE_SHEET_H
#define YOKE_SHEET_H

#include "yoke/text.h"

enum { SHEET_COLUMNS_MAX = 8 };

enum sheet_kind {
	SHEET_TITLE,
	SHEET_HEAD,
	SHEET_SUBHEAD,
	SHEET_PARAGRAPH,
	SHEET_POINT,
	SHEET_VERBATIM,
	SHEET_TABLE
};

struct sheet_item;

/* Zero-initialise. Without memory failed is set, and every later call does nothing. */
struct sheet {
	struct sheet_item *item;
	size_t n, cap;
	bool failed;
};

/* A title, a heading, a paragraph, a point of a list, or a line that stands alone on its line of text and
 * of the page's source, however long it is. */
void sheet_add(struct sheet *s, enum sheet_kind kind, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Begin a table with n named columns, at most SHEET_COLUMNS_MAX; then its cells, row by row. A
 * table without cells is left out. */
void sheet_table(struct sheet *s, const char *const *column, size_t n);
void sheet_cell(struct sheet *s, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* A further line in the cell that was added last; its first line, when that is empty. */
void sheet_line(struct sheet *s, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Column i, from 0, of the table that was begun last is narrowed last, when nothing else makes room. */
void sheet_keep(struct sheet *s, size_t i);

void sheet_free(struct sheet *s);

/* Lines of at most width columns (at least 60). */
void sheet_print(const struct sheet *s, unsigned width, struct text *out);

/*
 * One HTML page for A4 and Letter: no script, nothing from elsewhere. Black on white in print, as the
 * reader has set it on a screen. The first cell of a row is its heading.
 */
void sheet_html(const struct sheet *s, struct text *out);

#endif
