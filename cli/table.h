/*
 * A table that fits the terminal: columns as wide as they need, the widest narrowed and their cells
 * broken over lines when they do not fit together; nothing is cut off.
 */
#ifndef TABLE_H
#define TABLE_H

#include <stddef.h>

struct table;
struct text;

/* n column headings, 1 to 12; they are not copied. NULL without memory, which the others take. */
struct table *table_new(const char *const *heads, size_t n);

/* The cells of column i, from 0, are broken last, when nothing else makes room. */
void table_keep(struct table *t, size_t i);

/* The next cell, row by row; made visible and copied. */
void table_cell(struct table *t, const char *s);

/* The same of a text, which is freed. */
void table_text(struct table *t, struct text *s);

/* A line under the row that was last completed; made visible, broken at blanks. */
void table_note(struct table *t, const char *s);

/* Write it to stdout and free it. With no row: empty is written instead, a line without its end. */
void table_out(struct table *t, const char *empty);

/* Columns that the visible text s takes, and bytes of it that fit into so many columns. */
size_t table_width(const char *s);
size_t table_fit(const char *s, size_t width);

#endif
