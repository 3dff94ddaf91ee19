#include "yoke/text.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Make room for n more bytes and the NUL. */
static bool grow(struct text *t, size_t n)
{
	size_t cap = t->cap ? t->cap : 64;
	char *s;

	if (t->failed)
		return false;
	if (n >= SIZE_MAX / 2 - t->n)
		goto failed;
	while (cap < t->n + n + 1)
		cap *= 2;
	if (cap == t->cap)
		return true;
	s = realloc(t->s, cap);
	if (!s)
		goto failed;
	t->s = s;
	t->cap = cap;
	return true;

failed:
	t->failed = true;
	return false;
}

void text_add(struct text *t, const char *bytes, size_t n)
{
	if (!grow(t, n))
		return;
	if (n)
		memcpy(t->s + t->n, bytes, n);
	t->n += n;
	t->s[t->n] = '\0';
}

void text_puts(struct text *t, const char *s)
{
	text_add(t, s, strlen(s));
}

void text_putc(struct text *t, char c)
{
	text_add(t, &c, 1);
}

void text_printf(struct text *t, const char *format, ...)
{
	va_list ap;

	va_start(ap, format);
	text_vprintf(t, format, ap);
	va_end(ap);
}

void text_vprintf(struct text *t, const char *format, va_list ap)
{
	va_list again;
	int n;

	va_copy(again, ap);
	n = vsnprintf(NULL, 0, format, again);
	va_end(again);
	if (n < 0)
		t->failed = true;
	if (n < 0 || !grow(t, (size_t)n))
		return;
	vsnprintf(t->s + t->n, (size_t)n + 1, format, ap);
	t->n += (size_t)n;
}

/*
 * Length of the well-formed UTF-8 character at s (Unicode 15, table 3-7), 0 when there is none. C1
 * control characters count as none: a terminal may obey them.
 */
static size_t utf8(const unsigned char *s, size_t n)
{
	size_t need = s[0] >= 0xF0 ? 4 : s[0] >= 0xE0 ? 3 : 2;
	unsigned char low = 0x80, high = 0xBF;

	if (s[0] < 0xC2 || s[0] > 0xF4 || n < need)
		return 0;
	if (s[0] == 0xE0)
		low = 0xA0;
	else if (s[0] == 0xED)
		high = 0x9F;
	else if (s[0] == 0xF0)
		low = 0x90;
	else if (s[0] == 0xF4)
		high = 0x8F;
	else if (s[0] == 0xC2)
		low = 0xA0;
	if (s[1] < low || s[1] > high)
		return 0;
	for (size_t i = 2; i < need; i++)
		if (s[i] < 0x80 || s[i] > 0xBF)
			return 0;
	return need;
}

/* Characters that turn the direction of writing or hide: U+200B..200F, 202A..202E, 2060..206F,
 * FEFF. */
static bool hides(const unsigned char *s, size_t length)
{
	if (length != 3)
		return false;
	if (s[0] == 0xEF)
		return s[1] == 0xBB && s[2] == 0xBF;
	if (s[0] != 0xE2)
		return false;
	if (s[1] == 0x80)
		return (s[2] >= 0x8B && s[2] <= 0x8F) || (s[2] >= 0xA8 && s[2] <= 0xAE);
	return s[1] == 0x81 && s[2] >= 0xA0 && s[2] <= 0xAF;
}

void text_visible(struct text *t, const char *bytes, size_t n)
{
	const unsigned char *s = (const unsigned char *)bytes;

	while (n) {
		size_t run = 0, more;
		while (run < n && s[run] >= 0x20 && s[run] < 0x7F)
			run++;
		text_add(t, (const char *)s, run);
		s += run;
		n -= run;
		if (!n)
			return;
		more = utf8(s, n);
		if (more && !hides(s, more)) {
			text_add(t, (const char *)s, more);
		} else {
			more = 1;
			text_printf(t, "<%02X>", s[0]);
		}
		s += more;
		n -= more;
	}
}

void text_markup(struct text *t, const char *s)
{
	for (; *s; s++) {
		switch (*s) {
		case '&':
			text_puts(t, "&amp;");
			break;
		case '<':
			text_puts(t, "&lt;");
			break;
		case '>':
			text_puts(t, "&gt;");
			break;
		case '"':
			text_puts(t, "&quot;");
			break;
		case '\'':
			text_puts(t, "&#39;");
			break;
		default:
			text_putc(t, *s);
		}
	}
}

char *text_take(struct text *t)
{
	char *s = t->s;

	if (t->failed) {
		text_free(t);
		return NULL;
	}
	if (!s)
		s = calloc(1, 1);
	memset(t, 0, sizeof *t);
	return s;
}

void text_free(struct text *t)
{
	free(t->s);
	memset(t, 0, sizeof *t);
}
