/* A sheet as one page to print. */
#include <stdio.h>
#include <string.h>
#include "sheet_inside.h"

static const char head[] = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                           "<meta name=\"viewport\" content=\"width=device-width\">\n"
                           "<title>";

/* Wide enough for A4 and Letter, long enough to be read beside a machine. */
static const char style[] =
    "</title>\n<style>\n"
    "@page { margin: 15mm; }\n"
    "body { font: 10pt/1.35 sans-serif; color: #000; background: #fff; max-width: 180mm; "
    "margin: 0 auto; padding: 4mm; }\n"
    "h1 { font-size: 16pt; margin: 0 0 2mm; }\n"
    "h2 { font-size: 13pt; margin: 6mm 0 1mm; border-top: 1.5pt solid #000; padding-top: 2mm; }\n"
    "h3 { font-size: 10pt; margin: 4mm 0 1mm; }\n"
    "h2, h3 { break-after: avoid; }\n"
    "p, ul { margin: 1mm 0 2mm; }\n"
    "table { border-collapse: collapse; width: 100%; }\n"
    "thead { display: table-header-group; }\n"
    "tr { break-inside: avoid; }\n"
    "th, td { border: .5pt solid #000; padding: .6mm 1.5mm; text-align: left; vertical-align: "
    "top; overflow-wrap: anywhere; }\n"
    "</style>\n</head>\n<body>\n";

static void element(struct text *out, const char *name, const char *s)
{
	text_printf(out, "<%s>", name);
	text_markup(out, s);
	text_printf(out, "</%s>", name);
}

static void row(struct text *out, char *const cell[], size_t columns, const char *name)
{
	text_puts(out, "<tr>");
	for (size_t k = 0; k < columns; k++)
		element(out, name, cell[k]);
	text_puts(out, "</tr>\n");
}

static void table(const struct sheet_item *t, struct text *out)
{
	if (t->cells <= t->columns)
		return;
	text_puts(out, "<table>\n<thead>\n");
	row(out, t->cell, t->columns, "th");
	text_puts(out, "</thead>\n<tbody>\n");
	for (size_t i = t->columns; i + t->columns <= t->cells; i += t->columns)
		row(out, &t->cell[i], t->columns, "td");
	text_puts(out, "</tbody>\n</table>\n");
}

void sheet_html(const struct sheet *s, struct text *out)
{
	static const char *const name[] = {[SHEET_TITLE] = "h1",
	    [SHEET_HEAD] = "h2",
	    [SHEET_SUBHEAD] = "h3",
	    [SHEET_PARAGRAPH] = "p",
	    [SHEET_POINT] = "li"};
	bool list = false;

	out->failed |= s->failed;
	if (s->failed)
		return;
	text_puts(out, head);
	text_markup(out, s->n && s->item[0].kind == SHEET_TITLE ? s->item[0].s : "");
	text_puts(out, style);
	for (size_t i = 0; i < s->n; i++) {
		const struct sheet_item *it = &s->item[i];

		if (list != (it->kind == SHEET_POINT))
			text_puts(out, list ? "</ul>\n" : "<ul>\n");
		list = it->kind == SHEET_POINT;
		if (it->kind == SHEET_TABLE) {
			table(it, out);
		} else {
			element(out, name[it->kind], it->s);
			text_putc(out, '\n');
		}
	}
	text_puts(out, list ? "</ul>\n</body>\n</html>\n" : "</body>\n</html>\n");
}
