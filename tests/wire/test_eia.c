/* Goal: the EIA code is coded and decoded as published tables say, its doubtful codes follow the
 * settings, and EIA is told from ISO. */
#include "wire_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "eia.h"
#include "iso.h"

static const uint8_t defaults[LINE_EIA_CODES];

static struct eia standard(void)
{
	struct eia e;

	assert_int_equal(eia_init(&e, defaults, NULL), EIA_OK);
	return e;
}

/*
 * Source: EIA RS-244-A as published tables of tape codes and an open simulator of old machines give
 * it, compared with one another; "unsettled" are ER, TAB, BS and &, where they do not agree or only
 * one has it, and the defaults are taken. DC1 to DC4: ISO 646.
 */
static void the_table(void **state)
{
	static const struct {
		const char *name;
		uint8_t code;
	} named[] = {{"SP", ' '}, {"NUL", 0}, {"BS", 8}, {"HT", 9}, {"LF", ISO_LF}, {"CR", ISO_CR},
	    {"DC1", ISO_DC1}, {"DC2", ISO_DC2}, {"DC3", ISO_DC3}, {"DC4", ISO_DC4},
	    {"DEL", ISO_DEL}};
	FILE *f = fopen(TEST_SOURCE_DIR "/wire/eia244.tsv", "re");
	struct eia e = standard();
	char line[128], name[8], code[8];
	unsigned ascii, rows = 0, codes = 0;

	assert_non_null(f);
	assert_non_null(fgets(line, sizeof(line), f));
	while (fgets(line, sizeof(line), f)) {
		assert_int_equal(sscanf(line, "%7s %x %7s", name, &ascii, code), 3);
		for (size_t i = 0; i < sizeof(named) / sizeof(named[0]); i++)
			if (!strcmp(name, named[i].name))
				name[0] = (char)named[i].code;
		assert_int_equal((uint8_t)name[0], ascii);
		rows++;
		if (!strcmp(code, "-")) {
			assert_int_equal(eia_encode(&e, (uint8_t)ascii), EIA_NOTHING);
			continue;
		}
		assert_int_equal(eia_encode(&e, (uint8_t)ascii), strtoul(code, NULL, 16));
		assert_int_equal(eia_decode(&e, (uint8_t)strtoul(code, NULL, 16)), ascii);
		codes++;
	}
	fclose(f);
	assert_int_equal(rows, 64);
	assert_int_equal(codes, 51);
}

/* Every code has an odd number of holes (RS-244-A) and is one character's; shifts are from common
 * practice. */
static void every_byte(void **state)
{
	struct eia e = standard();
	unsigned characters = 0;

	for (unsigned b = 1; b < 256; b++) {
		int c = eia_decode(&e, (uint8_t)b);

		if (__builtin_popcount(b) % 2 == 0)
			assert_int_equal(c, EIA_NOTHING);
		if (c >= 0)
			assert_int_equal(eia_encode(&e, (uint8_t)c), b);
		characters += c >= 0;
	}
	assert_int_equal(characters, 50);
	assert_int_equal(eia_decode(&e, 0x7C), EIA_SHIFT);
	assert_int_equal(eia_decode(&e, 0x7A), EIA_SHIFT);
	for (unsigned c = 'a'; c <= 'z'; c++)
		assert_int_equal(eia_encode(&e, (uint8_t)c), EIA_NOTHING);
	for (unsigned c = 0x80; c < 0x100; c++)
		assert_int_equal(eia_encode(&e, (uint8_t)c), EIA_NOTHING);
}

/* DC1, DC2, DC4 and DC3 with even parity are even and so never a character; 13 hex is the 3. */
static void devices_are_no_characters(void **state)
{
	struct eia e = standard();

	for (unsigned b = 0; b < 256; b++)
		assert_int_equal(
		    eia_is_device((uint8_t)b), b == 0x11 || b == 0x12 || b == 0x93 || b == 0x14);
	for (unsigned b = 0; b < 256; b++)
		if (eia_is_device((uint8_t)b))
			assert_int_equal(eia_decode(&e, (uint8_t)b), EIA_NOTHING);
	assert_int_equal(eia_decode(&e, 0x13), '3');
}

static void settings(void **state)
{
	uint8_t set[LINE_EIA_CODES] = {0};
	unsigned which = 99;
	struct eia e;

	set[LINE_EIA_ER] = 0x5B;
	set[LINE_EIA_HASH] = 0x0B;
	set[LINE_EIA_AND] = LINE_EIA_NONE;
	assert_int_equal(eia_init(&e, set, &which), EIA_OK);
	assert_int_equal(which, 99);
	assert_int_equal(eia_encode(&e, '%'), 0x5B);
	assert_int_equal(eia_decode(&e, 0x5B), '%');
	assert_int_equal(eia_decode(&e, 0x0B), '#');
	assert_int_equal(eia_encode(&e, '&'), EIA_NOTHING);
	assert_int_equal(eia_decode(&e, 0x0E), EIA_NOTHING);

	/* 33 hex for TAB stands in a published table and cannot be right: four holes. */
	set[LINE_EIA_TAB] = 0x33;
	assert_int_equal(eia_init(&e, set, &which), EIA_EVEN);
	assert_string_equal(eia_name(which), "TAB");
	/* A letter, the end of block, delete, another setting; and LF with bit 8, by which ISO is
	 * known: with it as a character every EIA text looked like ISO. */
	static const uint8_t taken[] = {0x61, 0x80, 0x7F, 0x5B, 0x8A};

	for (size_t i = 0; i < sizeof(taken); i++) {
		set[LINE_EIA_TAB] = taken[i];
		assert_int_equal(eia_init(&e, set, &which), EIA_TAKEN);
		assert_int_equal(which, LINE_EIA_TAB);
	}
	for (unsigned i = 0; i < LINE_EIA_CODES; i++)
		for (unsigned k = 0; k < i; k++)
			assert_string_not_equal(eia_name(i), eia_name(k));
	assert_string_equal(eia_name(LINE_EIA_CODES), "");
}

static enum eia_guess guess(const uint8_t *bytes, size_t n)
{
	struct eia_counts whole = {0}, single = {0};

	eia_count(&whole, bytes, n);
	for (size_t i = 0; i < n; i++)
		eia_count(&single, bytes + i, 1);
	assert_memory_equal(&whole, &single, sizeof(whole));
	return eia_guess(&whole);
}

/* A program of n blocks that both codes can carry. */
static size_t program(char *to, uint32_t *seed, int blocks)
{
	size_t n = (size_t)sprintf(to, "%%\nO%u\n", chance(seed) % 10000);

	for (int i = 0; i < blocks; i++)
		n += (size_t)sprintf(to + n, "N%d G%u X%u. Z-%u.%u\n", i, chance(seed) % 4,
		    chance(seed) % 200, chance(seed) % 90, chance(seed) % 1000);
	return n + (size_t)sprintf(to + n, "M30\n%%\n");
}

/* Random programs in each code, with a wrong bit in one byte of twenty and device controls between.
 */
static void told_apart(void **state)
{
	struct eia e = standard();
	uint32_t seed = 244;

	for (int round = 0; round < 2000; round++) {
		uint8_t eia[2000], iso[2000], ascii[2000], odd[2000];
		char text[2000];
		size_t n = program(text, &seed, 1 + (int)(chance(&seed) % 30));

		for (size_t i = 0; i < n; i++) {
			uint8_t bit = chance(&seed) % 20 == 0 ? 1 << chance(&seed) % 8 : 0;
			uint8_t c = (uint8_t)text[i];

			bit = round % 2 ? bit : 0;
			/* So that ends of block stay the majority's. */
			bit = c == '\n' ? 0 : bit;
			eia[i] = (uint8_t)eia_encode(&e, c) ^ bit;
			iso[i] = iso_encode(c) ^ bit;
			ascii[i] = c;
			odd[i] = iso_encode(c) ^ 0x80;
		}
		if (round % 2 == 0) {
			assert_int_equal(guess(odd, n), EIA_GUESS_ISO);
			assert_int_equal(guess(ascii, n), EIA_GUESS_ISO);
		}
		/* Short programs may have more than one wrong byte in eight. */
		if (round % 2 == 0 || n > 400) {
			assert_int_equal(guess(eia, n), EIA_GUESS_EIA);
			assert_int_equal(guess(iso, n), EIA_GUESS_ISO);
		}
		/* EIA through a port of 7 bits: its ends of block are gone. */
		for (size_t i = 0; i < n; i++)
			eia[i] = (uint8_t)eia_encode(&e, (uint8_t)text[i]) & 0x7F;
		assert_int_equal(guess(eia, n), EIA_GUESS_EIA);
	}
}

static void noise_is_neither(void **state)
{
	uint8_t noise[1000] = {0};
	uint32_t seed = 7;

	assert_int_equal(guess(noise, 0), EIA_GUESS_NEITHER);
	for (int round = 0; round < 1000; round++) {
		for (size_t i = 0; i < sizeof(noise); i++)
			noise[i] = (uint8_t)(chance(&seed) >> 9);
		assert_int_equal(guess(noise, sizeof(noise)), EIA_GUESS_NEITHER);
	}
	memset(noise, 0, sizeof(noise));
	assert_int_equal(guess(noise, sizeof(noise)), EIA_GUESS_NEITHER);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_table),
	    cmocka_unit_test(every_byte),
	    cmocka_unit_test(devices_are_no_characters),
	    cmocka_unit_test(settings),
	    cmocka_unit_test(told_apart),
	    cmocka_unit_test(noise_is_neither),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
