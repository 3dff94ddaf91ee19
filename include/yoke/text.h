/*
 * A growing piece of text. A failed allocation is remembered and makes every later call a no-op, so
 * that callers test once, at the end. Zero-initialise before use.
 */
#ifndef YOKE_TEXT_H
#define YOKE_TEXT_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>

struct text {
	char *s;  /* always NUL-terminated once something was added; NULL before */
	size_t n; /* bytes without the NUL */
	size_t cap;
	bool failed; /* an allocation failed: s holds less than was added */
};

void text_add(struct text *t, const char *bytes, size_t n);
void text_puts(struct text *t, const char *s);
void text_putc(struct text *t, char c);
void text_printf(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));
void text_vprintf(struct text *t, const char *format, va_list ap)
    __attribute__((format(printf, 2, 0)));

/*
 * Append bytes for a person's eyes: control characters and bytes that are not valid UTF-8 are
 * written as <hh> in hexadecimal, so that no terminal can be driven by a file's content.
 */
void text_visible(struct text *t, const char *bytes, size_t n);

/* Append a string as text of an XML or HTML document: what those reserve is escaped (XML 1.0, 2.4).
 */
void text_markup(struct text *t, const char *s);

/* Hand the text over to the caller, who frees it. NULL when an allocation failed; "" when nothing
 * was added. */
char *text_take(struct text *t);

/* Free and zero. */
void text_free(struct text *t);

#endif
