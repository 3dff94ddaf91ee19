/* What the writers of a sheet see of it. */
#ifndef SHEET_INSIDE_H
#define SHEET_INSIDE_H

#include "sheet.h"

struct sheet_item {
	enum sheet_kind kind;
	char *s;      /* visible; NULL for a table */
	char **cell;  /* of a table: its column names, then its cells */
	size_t cells; /* a whole number of rows when the sheet is done */
	size_t cap, columns;
};

#endif
