/* A sheet as lines of text. */
#include <stdio.h>
#include <string.h>
#include "sheet_inside.h"

enum { GAP = 2, COLUMN_MIN = 6 };

/* Columns that n bytes of visible text take: one per character. */
static size_t cells(const char *s, size_t n)
{
	size_t count = 0;

	for (size_t i = 0; i < n; i++)
		count += ((unsigned char)s[i] & 0xc0) != 0x80;
	return count;
}

/* Columns that the longest line of a cell takes. */
static size_t longest(const char *s)
{
	size_t most = 0;

	for (;;) {
		size_t n = strcspn(s, "\n"), width = cells(s, n);

		most = width > most ? width : most;
		if (!s[n])
			return most;
		s += n + 1;
	}
}

/* Bytes of the first columns characters of a line. */
static size_t bytes(const char *s, size_t columns)
{
	size_t n = 0;

	while (s[n] && s[n] != '\n' && columns) {
		n++;
		while (((unsigned char)s[n] & 0xc0) == 0x80)
			n++;
		columns--;
	}
	return n;
}

/* Bytes of s that stand on one line of width columns: up to a blank where there is one, else as
 * many as fit. *s goes behind them and the blanks that follow. */
static size_t line(const char **s, size_t width)
{
	const char *p = *s;
	size_t most = bytes(p, width), n = most;

	if (p[n] && p[n] != ' ' && p[n] != '\n') {
		while (n && p[n] != ' ')
			n--;
		if (n == 0)
			n = most;
	}
	*s = p + n;
	*s += strspn(*s, " ");
	*s += **s == '\n';
	while (n && p[n - 1] == ' ')
		n--;
	return n;
}

static void paragraph(const char *s, const char *first, size_t width, struct text *out)
{
	size_t indent = strlen(first);

	do {
		const char *at = s;
		size_t n = line(&s, width - indent);

		text_puts(out, first);
		text_add(out, at, n);
		text_putc(out, '\n');
		first = indent ? "  " : "";
	} while (*s);
}

static void underlined(const char *s, char under, size_t width, struct text *out)
{
	size_t n = cells(s, strlen(s));

	paragraph(s, "", width, out);
	for (size_t i = 0; i < n && i < width; i++)
		text_putc(out, under);
	text_putc(out, '\n');
}

/* The column that gives way next: the widest, one that is to be kept only when no other can. */
static size_t widest(const struct sheet_item *t, const size_t column[])
{
	size_t found = t->columns;

	for (int keeping = 1; keeping >= 0 && found == t->columns; keeping--)
		for (size_t k = 0; k < t->columns; k++)
			if (column[k] > COLUMN_MIN && !(keeping && t->keep[k]) &&
			    (found == t->columns || column[k] > column[found]))
				found = k;
	return found;
}

void sheet_print_fit(const struct sheet_item *t, size_t width, size_t column[])
{
	size_t sum = GAP * (t->columns - 1);

	for (size_t k = 0; k < t->columns; k++) {
		column[k] = 1;
		for (size_t i = k; i < t->cells; i += t->columns) {
			size_t n = longest(t->cell[i]);

			if (n > column[k])
				column[k] = n;
		}
		sum += column[k];
	}
	for (; sum > width; sum--) {
		size_t k = widest(t, column);

		if (k == t->columns)
			break;
		column[k]--;
	}
}

static void row(char *const cell[], size_t columns, const size_t column[], struct text *out)
{
	const char *rest[SHEET_COLUMNS_MAX];
	bool more = true;

	for (size_t k = 0; k < columns; k++)
		rest[k] = cell[k];
	while (more) {
		size_t blanks = 0;

		more = false;
		for (size_t k = 0; k < columns; k++) {
			const char *at = rest[k];
			size_t n = line(&rest[k], column[k]);

			if (n) {
				text_printf(out, "%*s", (int)blanks, "");
				text_add(out, at, n);
				blanks = 0;
			}
			blanks += column[k] - cells(at, n) + GAP;
			more |= *rest[k] != '\0';
		}
		text_putc(out, '\n');
	}
}

static void table(const struct sheet_item *t, size_t width, struct text *out)
{
	size_t column[SHEET_COLUMNS_MAX];

	sheet_print_fit(t, width, column);
	row(t->cell, t->columns, column, out);
	for (size_t k = 0; k < t->columns; k++) {
		for (size_t i = 0; i < column[k]; i++)
			text_putc(out, '-');
		if (k + 1 < t->columns)
			text_printf(out, "%*s", GAP, "");
	}
	text_putc(out, '\n');
	for (size_t i = t->columns; i + t->columns <= t->cells; i += t->columns)
		row(&t->cell[i], t->columns, column, out);
}

void sheet_print(const struct sheet *s, unsigned width, struct text *out)
{
	width = width < 60 ? 60 : width;
	out->failed |= s->failed;
	for (size_t i = 0; i < s->n && !s->failed; i++) {
		const struct sheet_item *it = &s->item[i];
		bool again = i && it[-1].kind == it->kind &&
		             (it->kind == SHEET_POINT || it->kind == SHEET_VERBATIM);

		if (it->kind == SHEET_TABLE && it->cells <= it->columns)
			continue;
		if (i && !again && it[-1].kind != SHEET_SUBHEAD)
			text_putc(out, '\n');
		switch (it->kind) {
		case SHEET_TITLE:
		case SHEET_HEAD:
			underlined(it->s, it->kind == SHEET_TITLE ? '=' : '-', width, out);
			break;
		case SHEET_SUBHEAD:
		case SHEET_PARAGRAPH:
			paragraph(it->s, "", width, out);
			break;
		case SHEET_POINT:
			paragraph(it->s, "- ", width, out);
			break;
		case SHEET_VERBATIM:
			text_puts(out, it->s);
			text_putc(out, '\n');
			break;
		case SHEET_TABLE:
			table(it, width, out);
			break;
		}
	}
}
