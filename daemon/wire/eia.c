#include "eia.h"

#include <string.h>
#include "iso.h"

/* One in so many bytes may be wrong, and the code is still recognised. */
enum { WRONG_ONE_IN = 8 };

/* So many odd bytes in a row, none even, are no text in ISO 646: a chance of one in 65,536. */
enum { ODD_IN_A_ROW = 16 };

/* Signs that lie outside the rule for digits and letters, and are settled. */
static const struct {
	char character;
	uint8_t byte;
} fixed[] = {
    {'\n', EIA_EOB},
    {' ', 0x10},
    {'+', 0x70},
    {'-', 0x40},
    {'.', 0x6B},
    {',', 0x3B},
    {'/', 0x31},
    {0x7F, EIA_DELETE},
};

/* The settable ones, in the order of enum line_eia: name, character, default. */
static const struct {
	const char *name;
	char character; /* NUL: a shift */
	uint8_t byte;   /* EIA_BLANK: none unless set */
} settable[LINE_EIA_CODES] = {
    [LINE_EIA_ER] = {"ER", '%', 0x0B},
    [LINE_EIA_TAB] = {"TAB", '\t', 0x3E},
    [LINE_EIA_UC] = {"UC", '\0', 0x7C},
    [LINE_EIA_LC] = {"LC", '\0', 0x7A},
    [LINE_EIA_BS] = {"BS", '\b', 0x2A},
    [LINE_EIA_AND] = {"&", '&', 0x0E},
    [LINE_EIA_OPEN] = {"(", '(', 0x1A},
    [LINE_EIA_CLOSE] = {")", ')', 0x4A},
    [LINE_EIA_COLON] = {":", ':', 0},
    [LINE_EIA_STAR] = {"*", '*', 0},
    [LINE_EIA_EQUAL] = {"=", '=', 0},
    [LINE_EIA_HASH] = {"#", '#', 0},
    [LINE_EIA_LEFT] = {"[", '[', 0},
    [LINE_EIA_RIGHT] = {"]", ']', 0},
    [LINE_EIA_AT] = {"@", '@', 0},
    [LINE_EIA_DOLLAR] = {"$", '$', 0},
};

static uint8_t odd(uint8_t tracks)
{
	return iso_even(tracks) ? tracks | 0x10 : tracks;
}

static void put(struct eia *e, char character, uint8_t byte)
{
	e->to[(uint8_t)character] = byte;
	e->from[byte] = (uint8_t)character;
}

/* 0 is its zone alone; 1 to 9 are binary; A to I, J to R and S to Z count on zones 6+7, 7 and 6. */
static void put_by_rule(struct eia *e)
{
	put(e, '0', 0x20);
	for (uint8_t d = 1; d <= 9; d++) {
		put(e, (char)('0' + d), odd(d));
		put(e, (char)('A' - 1 + d), odd(0x60 | d));
		put(e, (char)('J' - 1 + d), odd(0x40 | d));
		if (d > 1)
			put(e, (char)('S' - 2 + d), odd(0x20 | d));
	}
}

static enum eia_fault put_set(struct eia *e, const uint8_t *set, unsigned i)
{
	uint8_t byte = set[i] != 0 ? set[i] : settable[i].byte;

	if (byte == EIA_BLANK || byte == LINE_EIA_NONE)
		return EIA_OK;
	if (iso_even(byte))
		return EIA_EVEN;
	if (e->from[byte] != EIA_NOTHING || iso_decode(byte) == ISO_LF)
		return EIA_TAKEN;
	if (settable[i].character != '\0')
		put(e, settable[i].character, byte);
	else
		e->from[byte] = EIA_SHIFT;
	return EIA_OK;
}

enum eia_fault eia_init(struct eia *e, const uint8_t set[LINE_EIA_CODES], unsigned *which)
{
	memset(e->to, EIA_BLANK, sizeof(e->to));
	for (size_t b = 0; b < 256; b++)
		e->from[b] = EIA_NOTHING;
	e->from[EIA_BLANK] = ISO_NUL;
	put_by_rule(e);
	for (size_t i = 0; i < sizeof(fixed) / sizeof(fixed[0]); i++)
		put(e, fixed[i].character, fixed[i].byte);
	for (unsigned i = 0; i < LINE_EIA_CODES; i++) {
		enum eia_fault fault = put_set(e, set, i);

		if (fault == EIA_OK)
			continue;
		if (which)
			*which = i;
		return fault;
	}
	return EIA_OK;
}

const char *eia_name(unsigned which)
{
	return which < LINE_EIA_CODES ? settable[which].name : "";
}

int eia_encode(const struct eia *e, uint8_t character)
{
	if (character == ISO_NUL)
		return EIA_BLANK;
	if (character > 0x7F || e->to[character] == EIA_BLANK)
		return EIA_NOTHING;
	return e->to[character];
}

int eia_decode(const struct eia *e, uint8_t byte)
{
	return e->from[byte];
}

bool eia_is_device(uint8_t byte)
{
	return byte == ISO_DC1 || byte == ISO_DC2 || byte == EIA_DC3 || byte == ISO_DC4;
}

void eia_count(struct eia_counts *c, const uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		uint8_t b = bytes[i];

		if (b == EIA_BLANK || iso_decode(b) == ISO_DEL || eia_is_device(b))
			continue;
		c->bytes++;
		c->odd += !iso_even(b);
		c->high += b >> 7;
		c->eia_ends += b == EIA_EOB;
		c->iso_ends += iso_decode(b) == ISO_LF;
	}
}

enum eia_guess eia_guess(const struct eia_counts *c)
{
	uint64_t wrong = c->bytes / WRONG_ONE_IN;
	bool mostly_odd = c->odd >= c->bytes - wrong;

	/* Even, 7 bits without parity, or odd parity: noise is none of these. */
	if (c->iso_ends > c->eia_ends && (c->odd <= wrong || c->high <= wrong || mostly_odd))
		return EIA_GUESS_ISO;
	if (c->eia_ends > c->iso_ends && mostly_odd)
		return EIA_GUESS_EIA;
	/* A port of 7 bits has cut off track 8, and with it each end of block. */
	if (c->iso_ends == 0 && c->high == 0 && c->bytes >= ODD_IN_A_ROW && c->odd == c->bytes)
		return EIA_GUESS_EIA;
	return EIA_GUESS_NEITHER;
}
