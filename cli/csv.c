#include "csv.h"

#include <string.h>

void csv_field(struct text *t, const char *s, bool first)
{
	struct text visible = {0};
	const char *p;

	if (*s && strchr("=+-@", *s))
		text_putc(&visible, '\'');
	text_visible(&visible, s, strlen(s));
	t->failed |= visible.failed;
	p = visible.s ? visible.s : "";
	if (!first)
		text_putc(t, ',');
	if (!strpbrk(p, ",\"\r\n")) {
		text_puts(t, p);
	} else {
		text_putc(t, '"');
		for (; *p; p++) {
			text_putc(t, *p);
			if (*p == '"')
				text_putc(t, '"');
		}
		text_putc(t, '"');
	}
	text_free(&visible);
}

void csv_end(struct text *t)
{
	text_puts(t, "\r\n");
}
