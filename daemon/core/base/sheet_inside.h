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

#endif
