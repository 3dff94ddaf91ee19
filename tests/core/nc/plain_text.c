#include "plain_text.h"

/* xorshift64 */
unsigned plain_text_draw(uint64_t *seed, unsigned n)
{
	*seed ^= *seed << 13;
	*seed ^= *seed >> 7;
	*seed ^= *seed << 17;
	return (unsigned)((*seed >> 20) % n);
}

static bool once_in(uint64_t *seed, unsigned n)
{
	return plain_text_draw(seed, n) == 0;
}

/* A number; once in rare it is an odd one. */
static void number(struct text *t, uint64_t *seed, unsigned rare)
{
	static const char *const odd[] = {"", ".", "-", "1..2", "1.2.3", "--1.", "1.-", "0", "00",
	    "-0", "5", "05", "-7", "0.", ".0", "1 2.", "1. 2", " 5.", "- 5.", "1.\t", "#1",
	    "[1.+2.]", "123456789012345", "1234567890123456", "12345678901234567890.",
	    "1234567.12345678", "0000000000000000001.", "1E5", "1,5", "99999999999999999999999"};

	if (once_in(seed, rare)) {
		text_puts(t, odd[plain_text_draw(seed, sizeof odd / sizeof *odd)]);
		return;
	}
	if (once_in(seed, 3))
		text_putc(t, once_in(seed, 8) ? '+' : '-');
	switch (plain_text_draw(seed, 6)) {
	case 0:
		text_printf(t, "%u.", plain_text_draw(seed, 300));
		break;
	case 1:
		text_printf(t, ".%u", plain_text_draw(seed, 300));
		break;
	default:
		text_printf(t, "%u.%03u", plain_text_draw(seed, 200), plain_text_draw(seed, 1000));
	}
}

static void sequence(struct text *t, uint64_t *seed, unsigned *n, unsigned rare)
{
	static const char *const odd[] = {"N", "N5.", "N-5", "N 7", "N1 0", "N123456789", "N99999",
	    "N100000", "/N5", "N5/", "N#1", "N0010"};

	if (once_in(seed, rare)) {
		text_puts(t, odd[plain_text_draw(seed, sizeof odd / sizeof *odd)]);
		return;
	}
	if (once_in(seed, rare))
		*n = plain_text_draw(seed, 100000);
	text_printf(t, "N%u", *n);
	*n += once_in(seed, rare) ? plain_text_draw(seed, 30) : 10;
	if (once_in(seed, 2))
		text_putc(t, ' ');
}

static void motion(struct text *t, uint64_t *seed, unsigned rare)
{
	static const char letters[] = "XYZUVWABCIJKRFFXZXZSTHDEPQL";
	static const char *const g[] = {"G0", "G1", "G01", "G00", "G2", "G03", "G3", "G1", "G1"};
	static const char *const odd[] = {"G4", "G001", "G1.", "G10", "G-1", "G", "G95", "G94",
	    "G41", "G40", "G66P9", "G65P8", "G66.1P7", "G67", "G81", "G71P100Q200", "G1G0", "GO",
	    ",C1.", "x1.", "XX", "M5", "O7", "/", "(X", "(PASS)", ";N", "%", "*", "=", "\t", "@",
	    "\xC2\xB0"};
	unsigned words = 1 + plain_text_draw(seed, 4), at = plain_text_draw(seed, 3);

	if (once_in(seed, 3))
		text_puts(t, g[plain_text_draw(seed, sizeof g / sizeof *g)]);
	for (unsigned i = 0; i < words; i++) {
		if (once_in(seed, 2))
			text_putc(t, ' ');
		if (once_in(seed, rare))
			text_puts(t, odd[plain_text_draw(seed, sizeof odd / sizeof *odd)]);
		/* most often letters that differ */
		text_putc(t, once_in(seed, rare)
		                 ? letters[plain_text_draw(seed, sizeof letters - 1)]
		                 : "XYZF"[(at + i) % 4]);
		number(t, seed, rare);
	}
	if (once_in(seed, rare))
		text_printf(t, "%*s", (int)plain_text_draw(seed, 70), "");
}

/* A block that is never plain. */
static void other(struct text *t, uint64_t *seed)
{
	static const char *const lines[] = {"", " ", "M201", "M202", "M203 P12", "M5", "M98P8L2",
	    "M98P9", "M99", "M30", "M02", "O8", "O9", "%", "(JOB J1 REV A upper)", "(REV B)",
	    "GOTO100", "IF[#1EQ1]GOTO200", "WHILE[#1LT3]DO1", "END1", "#1=#1+1", "G95", "G94",
	    "G41X1.", "G40", "G66P9X1.", "G65P9", "G67", "T0101", "M1", "M1234", "M01",
	    "G71P100Q200", "G70P100Q200", "\x7F", "x1.", "/M203", "/2X5.", "(", "M203 M204"};

	text_puts(t, lines[plain_text_draw(seed, sizeof lines / sizeof *lines)]);
}

void plain_text_program(struct text *t, uint64_t *seed, unsigned blocks)
{
	static const char *const ends[] = {
	    "\n", "\r\n", "\n", "\r\n", "\r", "\r\r\n", "\n\n", "\n\r"};
	static const unsigned rarities[] = {8, 60, 400};
	unsigned rare = rarities[plain_text_draw(seed, 3)], n = plain_text_draw(seed, 200);
	unsigned end = plain_text_draw(seed, 2);
	bool numbered = once_in(seed, 2);

	text_puts(t, once_in(seed, 8) ? "" : "%\nO1 (JOB J1 REV A upper)\nG0 X1.\n");
	for (unsigned i = 0; i < blocks; i++) {
		if (numbered || once_in(seed, rare))
			sequence(t, seed, &n, rare);
		if (once_in(seed, rare))
			other(t, seed);
		else
			motion(t, seed, rare);
		text_puts(t, ends[once_in(seed, rare) ? plain_text_draw(seed, 8) : end]);
		if (once_in(seed, rare * 4))
			text_putc(t, "\0\x7F\x1A"[plain_text_draw(seed, 3)]);
	}
	text_puts(t, once_in(seed, 8) ? "" : once_in(seed, 4) ? "M30\n%" : "M30\n%\n");
}
