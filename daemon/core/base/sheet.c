/* What stands on a sheet. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "sheet_inside.h"

/* The formatted string made visible, or NULL without memory; the caller frees it. */
static char *visible(const char *format, va_list ap) __attribute__((format(printf, 1, 0)));

static char *visible(const char *format, va_list ap)
{
	struct text raw = {0}, seen = {0};

	text_vprintf(&raw, format, ap);
	if (raw.s)
		text_visible(&seen, raw.s, raw.n);
	seen.failed |= raw.failed;
	text_free(&raw);
	return text_take(&seen);
}

static struct sheet_item *item(struct sheet *s, enum sheet_kind kind)
{
	if (s->failed)
		return NULL;
	if (s->n == s->cap) {
		size_t cap = s->cap ? 2 * s->cap : 64;
		struct sheet_item *grown = reallocarray(s->item, cap, sizeof(*grown));

		if (!grown) {
			s->failed = true;
			return NULL;
		}
		s->item = grown;
		s->cap = cap;
	}
	s->item[s->n] = (struct sheet_item){.kind = kind};
	return &s->item[s->n++];
}

void sheet_add(struct sheet *s, enum sheet_kind kind, const char *format, ...)
{
	struct sheet_item *i = item(s, kind);
	va_list ap;

	if (!i)
		return;
	va_start(ap, format);
	i->s = visible(format, ap);
	va_end(ap);
	s->failed |= !i->s;
}

/* Takes the string. */
static void put(struct sheet *s, char *cell)
{
	struct sheet_item *i = &s->item[s->n - 1];

	if (cell && i->cells == i->cap) {
		size_t cap = i->cap ? 2 * i->cap : 32;
		char **grown = reallocarray(i->cell, cap, sizeof(*grown));

		if (!grown) {
			free(cell);
			cell = NULL;
		} else {
			i->cell = grown;
			i->cap = cap;
		}
	}
	if (cell)
		i->cell[i->cells++] = cell;
	else
		s->failed = true;
}

void sheet_table(struct sheet *s, const char *const *column, size_t n)
{
	struct sheet_item *i = item(s, SHEET_TABLE);

	if (!i)
		return;
	i->columns = n;
	for (size_t k = 0; k < n && !s->failed; k++)
		put(s, strdup(column[k]));
}

void sheet_cell(struct sheet *s, const char *format, ...)
{
	va_list ap;

	if (s->failed)
		return;
	va_start(ap, format);
	put(s, visible(format, ap));
	va_end(ap);
}

void sheet_line(struct sheet *s, const char *format, ...)
{
	struct text both = {0};
	struct sheet_item *i;
	char *line, **last;
	va_list ap;

	if (s->failed)
		return;
	i = &s->item[s->n - 1];
	last = &i->cell[i->cells - 1];
	va_start(ap, format);
	line = visible(format, ap);
	va_end(ap);
	text_puts(&both, *last);
	if (**last)
		text_putc(&both, '\n');
	text_puts(&both, line ? line : "");
	both.failed |= !line;
	free(line);
	line = text_take(&both);
	if (!line) {
		s->failed = true;
		return;
	}
	free(*last);
	*last = line;
}

void sheet_keep(struct sheet *s, size_t i)
{
	if (!s->failed)
		s->item[s->n - 1].keep[i] = true;
}

void sheet_free(struct sheet *s)
{
	for (size_t i = 0; i < s->n; i++) {
		for (size_t k = 0; k < s->item[i].cells; k++)
			free(s->item[i].cell[k]);
		free(s->item[i].cell);
		free(s->item[i].s);
	}
	free(s->item);
	memset(s, 0, sizeof(*s));
}
