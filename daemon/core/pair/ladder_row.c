#include <stdint.h>
#include <string.h>
#include "ladder_row.h"

const struct ladder_glyphs ladder_row_utf8 = {
    .across = "─",
    .down = "│",
    .open_down = "┆",
    .left = "├",
    .right = "┤",
    .cross = "┼",
    .twice = "═",
    .twice_left = "╞",
    .twice_right = "╡",
    .to_right = "▷",
    .to_left = "◁",
    .fail = "╳",
    .corner = {"┌", "┐", "└", "┘"},
    .below = "┬",
    .bar = "━",
    .bar_down = "┷",
    .more = "⋮",
    .cut = "…",
};

const struct ladder_glyphs ladder_row_ascii = {
    .across = "-",
    .down = "|",
    .open_down = ":",
    .left = "+",
    .right = "+",
    .cross = "+",
    .twice = "=",
    .twice_left = "|",
    .twice_right = "|",
    .to_right = ">",
    .to_left = "<",
    .fail = "X",
    .corner = {"+", "+", "+", "+"},
    .below = "+",
    .bar = "=",
    .bar_down = "=",
    .more = ":",
    .cut = "~",
};

void ladder_row_begin(struct ladder_row *row, size_t width, bool ascii)
{
	row->width = width < LADDER_WIDTH_MAX ? width : LADDER_WIDTH_MAX;
	row->ascii = ascii;
	for (size_t i = 0; i < row->width; i++)
		strcpy(row->cell[i], " ");
}

void ladder_row_put(struct ladder_row *row, long x, const char *glyph)
{
	if (x >= 0 && (size_t)x < row->width)
		memcpy(row->cell[x], glyph, strlen(glyph) + 1);
}

void ladder_row_fill(struct ladder_row *row, long x, long end, const char *glyph)
{
	for (; x < end; x++)
		ladder_row_put(row, x, glyph);
}

/* The character at s: its bytes, or 0 when it is none that may be shown. */
static size_t character(const unsigned char *s)
{
	size_t n = s[0] >= 0xf0 ? 4 : s[0] >= 0xe0 ? 3 : s[0] >= 0xc2 ? 2 : 1;

	if (n == 1)
		return s[0] >= 0x20 && s[0] < 0x7f;
	if (s[0] > 0xf4 || (s[0] == 0xc2 && s[1] < 0xa0))
		return 0;
	for (size_t i = 1; i < n; i++)
		if ((s[i] & 0xc0) != 0x80)
			return 0;
	return n;
}

/* Text up to its end or to max cells; where it stops. */
static const char *some(struct ladder_row *row, long x, const char *s, size_t max)
{
	for (; *s && max; max--) {
		size_t n = character((const unsigned char *)s);
		char glyph[5] = "?";

		if (n == 1 || (n > 1 && !row->ascii)) {
			memcpy(glyph, s, n);
			glyph[n] = '\0';
		}
		ladder_row_put(row, x++, glyph);
		s += n ? n : 1;
	}
	return s;
}

void ladder_row_text(struct ladder_row *row, long x, const char *s)
{
	some(row, x, s, SIZE_MAX);
}

void ladder_row_fit(struct ladder_row *row, long x, const char *s, size_t max)
{
	const char *rest = some(row, x, s, max);

	if (*rest && max)
		ladder_row_put(row, x + (long)max - 1, row->ascii ? "~" : ladder_row_utf8.cut);
}

size_t ladder_row_cells(const char *s)
{
	size_t cells = 0;

	for (; *s; cells++) {
		size_t n = character((const unsigned char *)s);

		s += n ? n : 1;
	}
	return cells;
}

void ladder_row_end(const struct ladder_row *row, struct text *out)
{
	size_t n = row->width;

	while (n > 0 && strcmp(row->cell[n - 1], " ") == 0)
		n--;
	for (size_t i = 0; i < n; i++)
		text_puts(out, row->cell[i]);
	text_putc(out, '\n');
}
