#include "canonical.h"

#include <stdlib.h>
#include <string.h>
#include "iso.h"

static bool is_blank(uint8_t b)
{
	return b == ' ' || b == '\t';
}

static bool is_line_end(uint8_t b)
{
	return b == ISO_LF || b == ISO_CR;
}

/* Filler, and the end mark that files have for it. */
static bool is_tape(uint8_t b)
{
	return iso_is_filler(b) || b == ISO_SUB;
}

/* Bytes of the line end at p: one LF with the CRs around it, or a run of CRs that has no LF. */
static size_t line_end_width(const uint8_t *p, size_t n)
{
	size_t i = 0;

	while (i < n && p[i] == ISO_CR)
		i++;
	if (i == n || p[i] != ISO_LF)
		return i;
	i++;
	while (i < n && p[i] == ISO_CR)
		i++;
	return i;
}

/*
 * The body: from the first character that is neither filler nor line end to the last that is
 * neither filler, end mark, blank nor line end. Blanks before the first line's text stay: they are
 * inside it.
 */
static void find_body(const uint8_t *p, size_t *begin, size_t *end)
{
	size_t b = *begin, e = *end;

	while (e > b && (is_tape(p[e - 1]) || is_blank(p[e - 1]) || is_line_end(p[e - 1])))
		e--;
	for (size_t i = b; i < e; i++) {
		if (iso_is_filler(p[i]) || is_line_end(p[i]))
			b = i + 1; /* blanks between filler go with it */
		else if (!is_blank(p[i]))
			break;
	}
	*begin = b;
	*end = e;
}

/* Copy one line without DEL at its ends and blanks at its end. Returns the bytes written. */
static size_t copy_line(uint8_t *to, const uint8_t *from, size_t n)
{
	while (n > 0 && from[0] == ISO_DEL) {
		from++;
		n--;
	}
	while (n > 0 && (is_blank(from[n - 1]) || from[n - 1] == ISO_DEL))
		n--;
	memcpy(to, from, n);
	to[n] = ISO_LF;
	return n + 1;
}

static void note_damage(struct canonical *c, const uint8_t *line, size_t n, uint64_t number)
{
	for (const uint8_t *p = line; (p = memchr(p, ISO_NUL, n - (size_t)(p - line))) != NULL;
	     p++) {
		c->nuls++;
		if (c->damage_line == 0)
			c->damage_line = number;
	}
}

/*
 * Between two texts of one stream stand the trailer of the first and the leader of the second.
 * Bytes of such filler from p to the % of the second; 0 when something else comes first, or no
 * filler at all: then they stay as they are.
 */
static size_t between_texts(const uint8_t *p, size_t n)
{
	bool filler = false;
	size_t i = 0;

	for (; i < n && (is_tape(p[i]) || is_blank(p[i]) || is_line_end(p[i])); i++)
		filler = filler || is_tape(p[i]);
	return filler && i < n && p[i] == '%' ? i : 0;
}

int canonical_make(struct canonical *c, const void *program, size_t size)
{
	const uint8_t *p = program;
	size_t begin = 0, end = size;

	*c = (struct canonical){0};
	find_body(p, &begin, &end);
	if (begin == end)
		return 0;
	/* A line end of one byte stays one byte; the last line may gain one. */
	c->bytes = malloc(end - begin + 1);
	if (!c->bytes)
		return -1;
	for (uint64_t number = 1; begin < end; number++) {
		size_t n = 0, at = c->size;

		while (begin + n < end && !is_line_end(p[begin + n]))
			n++;
		note_damage(c, p + begin, n, number);
		c->size += copy_line(c->bytes + c->size, p + begin, n);
		begin += n;
		if (begin < end)
			begin += line_end_width(p + begin, end - begin);
		if (c->bytes[at] == '%')
			begin += between_texts(p + begin, end - begin);
	}
	return 0;
}

void canonical_free(struct canonical *c)
{
	free(c->bytes);
	*c = (struct canonical){0};
}

uint64_t canonical_difference(const struct canonical *a, const struct canonical *b)
{
	size_t n = a->size < b->size ? a->size : b->size;
	uint64_t line = 1;

	for (size_t i = 0; i < n; i++) {
		if (a->bytes[i] != b->bytes[i])
			return line;
		line += a->bytes[i] == ISO_LF;
	}
	return a->size == b->size ? 0 : line;
}
