/*
 * Goal: numbers are read as NISTIR 6556 (The NIST RS274/NGC Interpreter, version 3, 2000) says,
 * exactly, with their point; what it calls illegal is a fault and no word.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "dump.h"

static void same(const char *line, const char *words)
{
	assert_string_equal(dump_words(line), words);
	assert_string_equal(dump_faults(line), "");
}

/* 3.3: blanks and tabs may stand anywhere; case does not matter. The report's own example. */
static void blanks_inside(void **state)
{
	assert_string_equal(dump_words("g0x +0. 12 34y 7"), "G0 X0.1234 Y7");
	assert_string_equal(dump_words("g0 x+0.1234 y7"), "G0 X0.1234 Y7");
	assert_string_equal(dump_faults("g0x +0. 12 34y 7"), "lower@1x3");
	assert_string_equal(dump_words("G\t0 X\t-\t1\t.\t5"), "G0 X-1.5");
	assert_string_equal(dump_faults("G\t0 X\t-\t1\t.\t5"), "tab@2x5");
	same("X 1 2", "X12");
	same("X1 .5Y 2 . ", "X1.5 Y2.");
}

/* 3.3.2.1: sign, digits, at most one point, at least one digit. The report's examples of legal
 * numbers. */
static void legal(void **state)
{
	same("X5", "X5");
	same("X5.", "X5.");
	same("X.5", "X0.5");
	same("X-0.8807", "X-0.8807");
	same("X+5", "X5");
	same("X-.25", "X-0.25");
	same("X0", "X0");
	same("X-0", "X0");
}

/* 3.3.2.1: no digit at all, or two points, is no number. 1e3 is X1 and E3 here, because E is an
 * address of makers. */
static void illegal(void **state)
{
	static const char *const bad[] = {
	    "X.", "X+", "X-", "X", "X1.2.3", "X1..2", "X--1", "X+-1", "X-.", "X . "};

	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
		assert_string_equal(dump_words(bad[i]), "");
		assert_string_equal(dump_faults(bad[i]), "number@1x1");
	}
	same("X1E3", "X1 E3");
	/* what comes after is still read */
	assert_string_equal(dump_words("G1 X1.2.3 Z5."), "G1 Z5.");
	assert_string_equal(dump_words("X Y1"), "Y1");
}

/* 3.3.2.1: leading and trailing zeros do no harm. */
static void zeros(void **state)
{
	same("X0001.5000", "X1.5000");
	same("G01", "G1");
	same(
	    "M000000000000000000000000000000000000000000000000000000000000000000000000203", "M203");
}

/* Common practice: a lost point is a factor of 1000, so the point is kept, whatever the value. */
static void point(void **state)
{
	same("X1", "X1");
	same("X1.", "X1.");
	same("X1.0", "X1.0");
}

/* More digits than fit are no number that anybody wrote on purpose: marked, never rounded. */
static void huge(void **state)
{
	same("X999999999999999999", "X999999999999999999");
	same("X-999999999.999999999", "X-999999999.999999999");
	same("X99999999999999999999", "X^");
	same("X0.0000000000000000001 Z1.", "X^ Z1.");
}

static int take(void *ctx, const struct nc_block *b)
{
	uint64_t *v = ctx;

	v[1] = nc_word_whole(nc_block_word(b, 'M'), &v[0]);
	return 0;
}

static bool whole(const char *line, uint64_t *value)
{
	uint64_t v[2] = {0};
	struct nc_shape s;
	struct nc_reader *r = nc_reader_new(take, v);
	size_t n = 0;

	while (line[n])
		n++;
	assert_int_equal(nc_reader_feed(r, line, n), 0);
	assert_int_equal(nc_reader_finish(r, &s), 0);
	nc_reader_free(r);
	*value = v[0];
	return v[1];
}

/* 3.3.2.1: an integer may be written with a point. */
static void whole_numbers(void **state)
{
	uint64_t v;

	assert_true(whole("M3", &v) && v == 3);
	assert_true(whole("M03", &v) && v == 3);
	assert_true(whole("M3.", &v) && v == 3);
	assert_true(whole("M3.000", &v) && v == 3);
	assert_true(whole("X5 M+203", &v) && v == 203);
	assert_false(whole("M3.5", &v));
	assert_false(whole("M-3", &v));
	assert_false(whole("M#3", &v));
	assert_false(whole("M99999999999999999999", &v));
}

static int digits(void *ctx, const struct nc_block *b)
{
	*(uint8_t *)ctx = b->word[0].digits;
	return 0;
}

static uint8_t digits_of(const char *line)
{
	uint8_t d = 0;
	struct nc_shape s;
	struct nc_reader *r = nc_reader_new(digits, &d);
	size_t n = 0;

	while (line[n])
		n++;
	assert_int_equal(nc_reader_feed(r, line, n), 0);
	assert_int_equal(nc_reader_finish(r, &s), 0);
	nc_reader_free(r);
	return d;
}

/* 3.3.1: N takes at most five digits, N000009 is an error: the digits as written are told. */
static void sequence_digits(void **state)
{
	assert_int_equal(digits_of("N99999"), 5);
	assert_int_equal(digits_of("N00009"), 5);
	assert_int_equal(digits_of("N000009"), 6);
	assert_int_equal(digits_of("O0417"), 4);
	assert_int_equal(digits_of("X12.50"), 4);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(blanks_inside),
	    cmocka_unit_test(legal),
	    cmocka_unit_test(illegal),
	    cmocka_unit_test(zeros),
	    cmocka_unit_test(point),
	    cmocka_unit_test(huge),
	    cmocka_unit_test(whole_numbers),
	    cmocka_unit_test(sequence_digits),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
