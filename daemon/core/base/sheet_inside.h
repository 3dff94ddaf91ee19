/* What the writers of a sheet see of it. */
#ifndef SHEET_INSIDE_H
#define SHEET_INSIDE_H

#include "yoke/sheet.h"

struct sheet_item {
	enum sheet_kind kind;
	char *s;      /* visible; NULL for a table */
	char **cell;  /* of a table: its column names, then its cells; lines are divided by line ends,
	                 of which visible text has none of its own */
	size_t cells; /* a whole number of rows when the sheet is done */
	size_t cap, columns;
	bool keep[SHEET_COLUMNS_MAX];
};

/* How wide each column of a table is, in characters, when the table may have width: as wide as its
 * longest line; the widest columns give way until they all fit. */
void sheet_print_fit(const struct sheet_item *t, size_t width, size_t column[]);

#endif
