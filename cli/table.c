#include "table.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <wchar.h>
#include "out.h"
#include "yoke/text.h"

enum { COLUMNS_MAX = 12, GAP = 2, NARROWEST = 6, NOTE_INDENT = 4 };

struct row {
	struct row *next;
	char *cell[COLUMNS_MAX];
	struct text notes; /* each ends with a line end */
};

struct table {
	const char *const *heads;
	size_t n, at; /* columns; cells in the last row */
	struct row *first, *last;
	bool failed, keep[COLUMNS_MAX];
};

struct table *table_new(const char *const *heads, size_t n)
{
	struct table *t = calloc(1, sizeof(*t));

	if (t) {
		t->heads = heads;
		t->n = n < COLUMNS_MAX ? n : COLUMNS_MAX;
		t->at = t->n;
	}
	return t;
}

void table_keep(struct table *t, size_t i)
{
	if (t && i < t->n)
		t->keep[i] = true;
}

static bool begin_row(struct table *t)
{
	struct row *r = calloc(1, sizeof(*r));

	if (!r) {
		t->failed = true;
		return false;
	}
	if (t->last)
		t->last->next = r;
	else
		t->first = r;
	t->last = r;
	t->at = 0;
	return true;
}

void table_cell(struct table *t, const char *s)
{
	struct text visible = {0};

	if (!t || t->failed || (t->at == t->n && !begin_row(t)))
		return;
	text_visible(&visible, s, strlen(s));
	t->last->cell[t->at] = text_take(&visible);
	t->failed = !t->last->cell[t->at++];
}

void table_text(struct table *t, struct text *s)
{
	if (t)
		t->failed |= s->failed;
	table_cell(t, s->s ? s->s : "");
	text_free(s);
}

void table_note(struct table *t, const char *s)
{
	if (!t || !t->last)
		return;
	text_visible(&t->last->notes, s, strlen(s));
	text_putc(&t->last->notes, '\n');
}

/* Bytes of the character at s and its columns; what is not UTF-8 here is written as <hh>. */
static size_t step(const char *s, size_t *columns)
{
	mbstate_t state = {0};
	wchar_t c;
	size_t n;
	int width;

	*columns = 1;
	if ((unsigned char)*s < 0x80)
		return 1;
	if (out_ascii()) {
		*columns = 4;
		return 1;
	}
	n = mbrtowc(&c, s, strlen(s), &state);
	if (n == 0 || n > 4)
		return 1;
	width = wcwidth(c);
	*columns = width < 0 ? 1 : (size_t)width;
	return n;
}

size_t table_width(const char *s)
{
	size_t width = 0, columns;

	while (*s) {
		s += step(s, &columns);
		width += columns;
	}
	return width;
}

size_t table_fit(const char *s, size_t width)
{
	size_t at = 0, used = 0, columns, n;

	while (s[at]) {
		n = step(s + at, &columns);
		if (used + columns > width)
			break;
		used += columns;
		at += n;
	}
	return at;
}

/* The piece of s that stands on one line: up to a blank where there is one, at least one character.
 */
static size_t piece(const char *s, size_t width)
{
	size_t n = table_fit(s, width), blank = n, columns;

	if (!s[n])
		return n;
	while (blank > 0 && s[blank] != ' ')
		blank--;
	if (blank > 0)
		return blank;
	return n ? n : step(s, &columns);
}

static void find_widths(const struct table *t, size_t width[COLUMNS_MAX])
{
	size_t total = GAP * (t->n - 1), room = out_width();
	bool keeping = true;

	for (size_t i = 0; i < t->n; i++) {
		width[i] = table_width(t->heads[i]);
		for (const struct row *r = t->first; r; r = r->next)
			if (r->cell[i] && table_width(r->cell[i]) > width[i])
				width[i] = table_width(r->cell[i]);
		total += width[i];
	}
	while (total > room) {
		size_t widest = t->n;

		for (size_t i = 0; i < t->n; i++)
			if ((!t->keep[i] || !keeping) && width[i] > NARROWEST &&
			    (widest == t->n || width[i] > width[widest]))
				widest = i;
		if (widest == t->n && !keeping)
			return;
		if (widest == t->n) {
			keeping = false;
			continue;
		}
		width[widest]--;
		total--;
	}
}

/* One row, on as many lines as its longest cell needs. */
static void put_row(struct text *out, const char *const *cell, size_t n, const size_t *width)
{
	const char *rest[COLUMNS_MAX];
	bool more = true;

	for (size_t i = 0; i < n; i++)
		rest[i] = cell[i] ? cell[i] : "";
	while (more) {
		size_t blanks = 0;

		more = false;
		for (size_t i = 0; i < n; i++) {
			size_t bytes = piece(rest[i], width[i]), used = table_width(rest[i]);

			used -= table_width(rest[i] + bytes);
			if (bytes)
				text_printf(out, "%*s", (int)blanks, "");
			text_add(out, rest[i], bytes);
			blanks = (bytes ? 0 : blanks) + GAP + width[i] -
			         (used < width[i] ? used : width[i]);
			rest[i] += bytes;
			rest[i] += strspn(rest[i], " ");
			more |= *rest[i] != '\0';
		}
		text_putc(out, '\n');
	}
}

static void put_notes(struct text *out, const char *s)
{
	size_t room = out_width() - NOTE_INDENT, n;
	const char *end;
	char *line;

	for (; s && (end = strchr(s, '\n')); s = end + 1) {
		line = strndup(s, (size_t)(end - s));
		for (char *at = line; at && *at; at += strspn(at, " ")) {
			n = piece(at, room);
			text_printf(out, "%*s%.*s\n", NOTE_INDENT, "", (int)n, at);
			at += n;
		}
		out->failed |= !line;
		free(line);
	}
}

static void release(struct table *t)
{
	for (struct row *r = t->first, *next; r; r = next) {
		next = r->next;
		for (size_t i = 0; i < t->n; i++)
			free(r->cell[i]);
		text_free(&r->notes);
		free(r);
	}
	free(t);
}

void table_out(struct table *t, const char *empty)
{
	size_t width[COLUMNS_MAX];
	struct text out = {0};

	if (!t || t->failed) {
		out.failed = true;
	} else if (!t->first) {
		text_puts(&out, empty);
		text_putc(&out, '\n');
	} else {
		find_widths(t, width);
		put_row(&out, t->heads, t->n, width);
		for (struct row *r = t->first; r; r = r->next) {
			put_row(&out, (const char *const *)r->cell, t->n, width);
			out.failed |= r->notes.failed;
			put_notes(&out, r->notes.s);
		}
	}
	out_text(&out);
	if (t)
		release(t);
}
