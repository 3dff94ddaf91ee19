/*
 * Goal: whatever codes are set, EIA's tables either say what is wrong with them or are two sides of
 * one thing; every byte is judged; what EIA text is guessed to be is EIA, also with a few wrong
 * bits, and never ISO.
 */
#include <string.h>
#include "eia.h"
#include "input.h"
#include "iso.h"

/* Each character that has a byte comes back from it, and that byte has an odd number of holes. */
static void two_sides(const struct eia *e)
{
	for (int c = 0; c < 256; c++) {
		int byte = eia_encode(e, (uint8_t)c);

		must(byte >= EIA_NOTHING && byte < 256);
		must(byte == EIA_NOTHING || c == 0 || !iso_even((uint8_t)byte));
		must(byte == EIA_NOTHING || eia_decode(e, (uint8_t)byte) == c);
	}
	for (int b = 0; b < 256; b++) {
		int c = eia_decode(e, (uint8_t)b);

		must(c >= EIA_SHIFT && c < 128);
		must(c < 0 || eia_encode(e, (uint8_t)c) == b);
		must(!eia_is_device((uint8_t)b) || c == EIA_NOTHING);
	}
}

/* A text in EIA, of characters that it has, with an end of block now and then. */
static void guessed(const struct eia *e, struct input in)
{
	static uint8_t text[4096];
	struct eia_counts once = {0}, pieces = {0};
	size_t n = 0, blocks = 0;

	while (in.left > 0 && n + 2 < sizeof(text)) {
		int byte = eia_encode(e, input_byte(&in) & 0x7F);

		if (byte > 0)
			text[n++] = (uint8_t)byte;
		if (n % 16 == 15) {
			text[n++] = EIA_EOB;
			blocks++;
		}
	}
	eia_count(&once, text, n);
	for (size_t i = 0; i < n; i++)
		eia_count(&pieces, text + i, 1);
	must(memcmp(&once, &pieces, sizeof(once)) == 0);
	must(once.bytes <= n && once.odd == once.bytes && once.iso_ends == 0);
	if (blocks > 0)
		must(eia_guess(&once) == EIA_GUESS_EIA);
	/* One wrong bit in 16 characters at most hides nothing. */
	for (size_t i = 0; i < n; i += 16)
		text[i] ^= (uint8_t)(1 << i / 16 % 8);
	once = (struct eia_counts){0};
	eia_count(&once, text, n);
	must(eia_guess(&once) != EIA_GUESS_ISO || once.iso_ends > once.eia_ends);
}

/* Any bytes. */
static void counted(struct input in)
{
	struct eia_counts c = {0};
	enum eia_guess guess;

	eia_count(&c, in.at, in.left);
	must(c.bytes <= in.left && c.odd <= c.bytes && c.high <= c.bytes);
	must(c.eia_ends <= c.bytes && c.iso_ends <= c.bytes);
	guess = eia_guess(&c);
	must(guess != EIA_GUESS_ISO || c.iso_ends > c.eia_ends);
	must(guess != EIA_GUESS_EIA || 8 * c.odd >= 7 * c.bytes);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};
	uint8_t set[LINE_EIA_CODES] = {0};
	unsigned which = LINE_EIA_CODES;
	enum eia_fault fault;
	struct eia e;

	for (unsigned changes = input_byte(&in) % 8; changes > 0; changes--) {
		uint8_t what = input_byte(&in);

		set[what % LINE_EIA_CODES] = input_byte(&in);
	}
	fault = eia_init(&e, set, &which);
	must((fault == EIA_OK) == (which == LINE_EIA_CODES));
	counted(in);
	if (fault != EIA_OK) {
		must(fault == EIA_TAKEN || iso_even(set[which]));
		must(*eia_name(which) != '\0');
		return 0;
	}
	two_sides(&e);
	guessed(&e, in);
	return 0;
}
