/* A sheet as one page to print. */
#include <string.h>
#include "sheet_inside.h"

enum { PAGE_CHARACTERS = 96 }; /* 180 mm at 10 points */

static const char head[] = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                           "<meta name=\"viewport\" content=\"width=device-width\">\n"
                           "<title>";

/* Wide enough for A4 and Letter, long enough to be read beside a machine. On a screen the reader's
 * own colours, light or dark, are used; paper is white. */
static const char style[] =
    "</title>\n<style>\n"
    ":root { color-scheme: light dark; }\n"
    "@page { margin: 15mm; @bottom-right { content: counter(page) \" / \" counter(pages); "
    "font: 8pt sans-serif; } }\n"
    "@media print { :root { color-scheme: light; } body { padding: 0; } }\n"
    "body { font: 10pt/1.35 sans-serif; max-width: 180mm; margin: 0 auto; padding: 4mm; }\n"
    "h1 { font-size: 16pt; margin: 0 0 2mm; }\n"
    "h2 { font-size: 13pt; margin: 6mm 0 1mm; border-top: 1.5pt solid; padding-top: 2mm; }\n"
    "h3 { font-size: 10pt; margin: 4mm 0 1mm; }\n"
    "h1, h2, h3, p, li { overflow-wrap: anywhere; }\n"
    "h2, h3 { break-after: avoid; }\n"
    "p, ul { margin: 1mm 0 2mm; }\n"
    "table { border-collapse: collapse; width: 100%; margin: 0 0 2mm; }\n"
    "thead { display: table-header-group; }\n"
    "tr { break-inside: avoid; }\n"
    "th, td { border: .5pt solid; padding: .6mm 1.5mm; text-align: left; vertical-align: "
    "top; overflow-wrap: anywhere; }\n"
    "thead th { overflow-wrap: normal; }\n"
    "tbody th { font-weight: normal; }\n"
    "pre { font: 8pt/1.35 monospace; white-space: pre-wrap; overflow-wrap: anywhere; margin: 1mm 0 "
    "2mm; }\n"
    ".keep { overflow-wrap: normal; white-space: nowrap; }\n"
    "</style>\n</head>\n<body>\n<main>\n";

static void element(struct text *out, const char *name, const char *s)
{
	text_printf(out, "<%s>", name);
	text_markup(out, s);
	text_printf(out, "</%s>", name);
}

/* The lines of a cell. */
static void lines(struct text *out, const char *s)
{
	struct text t = {0};

	text_markup(&t, s);
	for (const char *at = t.s; at && *at; at += *at == '\n') {
		size_t n = strcspn(at, "\n");

		text_add(out, at, n);
		at += n;
		text_puts(out, *at ? "<br>" : "");
	}
	out->failed |= t.failed;
	text_free(&t);
}

static void row(struct text *out, const struct sheet_item *t, size_t from)
{
	text_puts(out, "<tr>");
	for (size_t k = 0; k < t->columns; k++) {
		const char *name = from && k ? "td" : "th";

		text_printf(out, "<%s%s%s>", name,
		    from == 0 ? " scope=\"col\"" : k == 0 ? " scope=\"row\"" : "",
		    t->keep[k] ? " class=\"keep\"" : "");
		lines(out, t->cell[from + k]);
		text_printf(out, "</%s>", name);
	}
	text_puts(out, "</tr>\n");
}

/* Columns share the page as they share a line of text: else a browser gives a column of names hardly
 * any room beside one of sentences. */
static void widths(const struct sheet_item *t, struct text *out)
{
	size_t column[SHEET_COLUMNS_MAX], sum = 0;

	sheet_print_fit(t, PAGE_CHARACTERS, column);
	for (size_t k = 0; k < t->columns; k++)
		sum += column[k];
	text_puts(out, "<colgroup>");
	for (size_t k = 0; k < t->columns; k++)
		text_printf(out, "<col style=\"width: %zu%%\">", 100 * column[k] / sum);
	text_puts(out, "</colgroup>\n");
}

static void table(const struct sheet_item *t, struct text *out)
{
	if (t->cells <= t->columns)
		return;
	text_puts(out, "<table>\n");
	widths(t, out);
	text_puts(out, "<thead>\n");
	row(out, t, 0);
	text_puts(out, "</thead>\n<tbody>\n");
	for (size_t i = t->columns; i + t->columns <= t->cells; i += t->columns)
		row(out, t, i);
	text_puts(out, "</tbody>\n</table>\n");
}

/* What holds items of this kind together; NULL: nothing. */
static const char *holder(enum sheet_kind kind)
{
	return kind == SHEET_POINT ? "ul" : kind == SHEET_VERBATIM ? "pre" : NULL;
}

static void item(struct text *out, const struct sheet_item *it)
{
	static const char *const name[] = {[SHEET_TITLE] = "h1",
	    [SHEET_HEAD] = "h2",
	    [SHEET_SUBHEAD] = "h3",
	    [SHEET_PARAGRAPH] = "p",
	    [SHEET_POINT] = "li"};

	if (it->kind == SHEET_TABLE) {
		table(it, out);
		return;
	}
	if (it->kind == SHEET_VERBATIM)
		text_markup(out, it->s);
	else
		element(out, name[it->kind], it->s);
	text_putc(out, '\n');
}

void sheet_html(const struct sheet *s, struct text *out)
{
	const char *held = NULL;

	out->failed |= s->failed;
	if (s->failed)
		return;
	text_puts(out, head);
	text_markup(out, s->n && s->item[0].kind == SHEET_TITLE ? s->item[0].s : "");
	text_puts(out, style);
	for (size_t i = 0; i < s->n; i++) {
		const char *holds = holder(s->item[i].kind);

		if (held && held != holds)
			text_printf(out, "</%s>\n", held);
		if (holds && held != holds)
			text_printf(out, "<%s>\n", holds);
		held = holds;
		item(out, &s->item[i]);
	}
	if (held)
		text_printf(out, "</%s>\n", held);
	text_puts(out, "</main>\n</body>\n</html>\n");
}
