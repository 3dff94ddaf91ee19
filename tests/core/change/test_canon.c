/*
 * Goal: two spellings of one block have one canonical text, and nothing that changes what the
 * machine does is lost. Spellings: NISTIR 6556, 3.3 (blanks, case), 3.3.1 (N numbers), 3.3.2.1
 * (numbers), 3.3.4 (comments).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "change_canon.h"

static void expect_n(const char *block, size_t n, const char *canonical)
{
	struct change_canon c = {0};

	assert_int_equal(change_canon_block(&c, block, n), 0);
	if (c.n != strlen(canonical) || memcmp(c.s, canonical, c.n) != 0)
		fail_msg("'%s' became '%.*s', not '%s'", block, (int)c.n, c.s, canonical);
	change_canon_free(&c);
}

static void expect(const char *block, const char *canonical)
{
	expect_n(block, strlen(block), canonical);
}

static void test_numbers(void **state)
{
	/* the report's own example: g0x +0. 12 34y 7 is g0 x+0.1234 y7 */
	expect("g0x +0. 12 34y 7", "G0X0.1234Y7");
	expect("g0 x+0.1234 y7", "G0X0.1234Y7");
	expect("X1.50", "X1.5");
	expect("X01.5", "X1.5");
	expect("X.5", "X0.5");
	expect("X-.50", "X-0.5");
	expect("X1.0", "X1.");
	expect("X1.", "X1.");
	expect("X1", "X1");
	expect("X0", "X0");
	expect("X-0.00", "X0");
	expect("G01 M03 T0101 S0800.", "G1M3T101S800");
	expect("X1.2.3", "X1.20.3");
	expect("X.", "X.");
}

static void test_taken_away(void **state)
{
	expect("N10 G1 X5.", "G1X5.");
	expect("N000020G1X5. (TO THE SHOULDER)", "G1X5.");
	expect("G1 (A) X5. (B) ; C", "G1X5.");
	expect("(ONLY WORDS)", "");
	expect("N10", "");
	expect("", "");
	expect(" \t ", "");
	expect_n("\0\0\x7fG1\0\0", 7, "G1");
	expect("\xEF\xBB\xBF%", "%");
}

static void test_kept(void **state)
{
	expect("/M203", "/1M203");
	expect("/1 M203", "/1M203");
	expect("/2N10M203", "/2M203");
	expect("N10/2M203", "/2M203");
	expect(":4417", "O4417");
	expect("#1=#2+[01.50*SIN[030]]", "#1=#2+[1.5*SIN[30]]");
	expect("IF[#1GT0]GOTO100", "IF[#1GT0]GOTO100");
	expect("G1 X5. (NOT CLOSED M203", "G1X5.(NOT CLOSED M203");
	expect("N50 (BORE (2 OF 3) SIZE) M204", "SIZE)M204");
	expect("X1-2", "X1-2");
}

/* Whatever the bytes, the result fits; and blanks anywhere outside comments change nothing. */
static void test_noise(void **state)
{
	static const char alphabet[] = "GXN/%:#[]+-.0123g\xc3)(;\0\x7f";
	struct change_canon once = {0}, twice = {0};
	uint32_t x = 7;

	for (int round = 0; round < 50000; round++) {
		char noise[40], wide[80];
		size_t n = 0, m = 0, letters = sizeof(alphabet) - 1 - (round & 1 ? 4 : 0);

		x = x * 1664525u + 1013904223u;
		for (size_t length = (x >> 8) % sizeof(noise); n < length; n++) {
			x = x * 1664525u + 1013904223u;
			noise[n] = alphabet[(x >> 16) % letters];
			if (x & 0x100)
				wide[m++] = ' ';
			wide[m++] = noise[n];
		}
		assert_int_equal(change_canon_block(&once, noise, n), 0);
		assert_true(once.n <= 2 * n + 4);
		if (!(round & 1))
			continue;
		assert_int_equal(change_canon_block(&twice, wide, m), 0);
		assert_int_equal(twice.n, once.n);
		assert_memory_equal(twice.s, once.s, once.n);
	}
	change_canon_free(&once);
	change_canon_free(&twice);
}

static void test_hash(void **state)
{
	struct change_canon a = {0}, b = {0};

	assert_int_equal(change_canon_block(&a, "N1 G1 X1.50", 11), 0);
	assert_int_equal(change_canon_block(&b, "g01x1.5", 7), 0);
	assert_true(change_canon_hash(&a) == change_canon_hash(&b));
	assert_int_equal(change_canon_block(&b, "g01x1.6", 7), 0);
	assert_true(change_canon_hash(&a) != change_canon_hash(&b));
	change_canon_free(&a);
	change_canon_free(&b);
}

/* A line of a GiB: it was copied twice and a half, 3 GB of memory. */
static void test_long(void **state)
{
	const size_t n = 4 << 20;
	struct change_canon c = {0};
	char *text = malloc(n);

	assert_non_null(text);
	memset(text, '.', n);
	assert_int_equal(change_canon_block(&c, text, n), 0);
	assert_true(c.n > 0 && c.cap < n && c.bare_cap < n);
	change_canon_free(&c);
	free(text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_numbers),
	    cmocka_unit_test(test_taken_away),
	    cmocka_unit_test(test_kept),
	    cmocka_unit_test(test_noise),
	    cmocka_unit_test(test_hash),
	    cmocka_unit_test(test_long),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
