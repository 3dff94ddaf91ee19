#include "conf_report.h"

#include <string.h>

__attribute__((format(printf, 5, 0))) static void message(struct conf_report *r, const char *file,
    unsigned line, const char *weight, const char *format, va_list ap)
{
	struct text what = {0};

	text_vprintf(&what, format, ap);
	text_visible(&r->text, file, strlen(file));
	if (line > 0)
		text_printf(&r->text, ":%u", line);
	text_printf(&r->text, ": %s: ", weight);
	if (what.s)
		text_visible(&r->text, what.s, what.n);
	text_putc(&r->text, '\n');
	text_free(&what);
}

void conf_report_error(
    struct conf_report *r, const char *file, unsigned line, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	message(r, file, line, "error", format, ap);
	va_end(ap);
	r->errors++;
}

void conf_report_warning(
    struct conf_report *r, const char *file, unsigned line, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	message(r, file, line, "warning", format, ap);
	va_end(ap);
	r->warnings++;
}

void conf_report_free(struct conf_report *r)
{
	text_free(&r->text);
	*r = (struct conf_report){0};
}
