/* Goal: the ISO code is coded and decoded as the published tables say, and parity tells how a port
 * is set. */
#include "wire_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "iso.h"

static uint8_t named(const char *name)
{
	static const struct {
		const char *name;
		uint8_t code;
	} controls[] = {{"SP", ' '}, {"NUL", 0}, {"BS", 8}, {"HT", 9}, {"LF", ISO_LF},
	    {"CR", ISO_CR}, {"DC1", ISO_DC1}, {"DC2", ISO_DC2}, {"DC3", ISO_DC3}, {"DC4", ISO_DC4},
	    {"DEL", ISO_DEL}};

	for (size_t i = 0; i < sizeof(controls) / sizeof(controls[0]); i++) {
		if (!strcmp(name, controls[i].name))
			return controls[i].code;
	}
	assert_int_equal(strlen(name), 1);
	return (uint8_t)name[0];
}

/* Source: ISO 840 / EIA RS-358, even parity in track 8 over ISO 646; 65 characters of a published
 * comparison table. */
static void the_table(void **state)
{
	FILE *f = fopen(TEST_SOURCE_DIR "/wire/iso840.tsv", "re");
	char line[128], name[8];
	unsigned ascii, iso, seen = 0;

	assert_non_null(f);
	assert_non_null(fgets(line, sizeof(line), f));
	while (fgets(line, sizeof(line), f)) {
		assert_int_equal(sscanf(line, "%7s %x %x", name, &ascii, &iso), 3);
		assert_int_equal(named(name), ascii);
		assert_int_equal(iso_encode((uint8_t)ascii), iso);
		assert_int_equal(iso_decode((uint8_t)iso), ascii);
		assert_true(iso_even((uint8_t)iso));
		seen++;
	}
	fclose(f);
	assert_int_equal(seen, 64);
}

/* Against the compiler's own count of bits, for every byte. */
static void every_byte(void **state)
{
	for (unsigned b = 0; b < 256; b++) {
		assert_int_equal(iso_even((uint8_t)b), __builtin_popcount(b) % 2 == 0);
		assert_int_equal(__builtin_popcount(iso_encode((uint8_t)b)) % 2, 0);
		assert_int_equal(iso_encode((uint8_t)b) & 0x7F, b & 0x7F);
		assert_int_equal(iso_is_device((uint8_t)b), b >= 0x11 && b <= 0x14);
	}
}

static enum iso_framing framing_of(const void *bytes, size_t n)
{
	struct iso_parity whole = {0}, single = {0};

	iso_count(&whole, bytes, n);
	for (size_t i = 0; i < n; i++)
		iso_count(&single, (const uint8_t *)bytes + i, 1);
	assert_memory_equal(&whole, &single, sizeof(whole));
	assert_int_equal(whole.bytes, n);
	return iso_framing(&whole);
}

/* The even stream is the trade's case of a control that sends 7E to a port set to 8N. */
static void what_parity_says(void **state)
{
	assert_int_equal(framing_of(BYTES("")), ISO_FRAMING_NONE);
	assert_int_equal(framing_of(BYTES("%\nO4417\nM30\n%\n")), ISO_FRAMING_CLEAR);
	assert_int_equal(
	    framing_of(BYTES("\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x47\x30\xD8\xB4\x30\x2E\x0A"
	                     "\x4D\x33\x30\x0A\xA5\x0A")),
	    ISO_FRAMING_EVEN);
	assert_int_equal(framing_of(BYTES("\x25\x8A\x4F\x34\x34\x31\x37\x8A")), ISO_FRAMING_ODD);
	assert_int_equal(framing_of(BYTES("\xA5\x8A\xCF\x34")), ISO_FRAMING_MIXED);
	assert_int_equal(framing_of(BYTES("\x25\x8A\x4F\xA5")), ISO_FRAMING_MIXED);
	assert_int_equal(framing_of(BYTES("\xA5\x0A\xCF\x34\x8A")), ISO_FRAMING_MIXED);
	assert_non_null(strstr(iso_framing_says(ISO_FRAMING_EVEN), "7E"));
	assert_non_null(strstr(iso_framing_says(ISO_FRAMING_MIXED), "wrong speed"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_table),
	    cmocka_unit_test(every_byte),
	    cmocka_unit_test(what_parity_says),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
