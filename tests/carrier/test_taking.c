/*
 * Goal: whatever is guessed of a file that comes in, and in whatever pieces it comes, its sum, size and
 * kept bytes are its own. Sums are compared with sha256_of(), which tests/common holds to FIPS 180-4.
 *
 * Comparing with a guess takes the place of summing, and a wrong guess may show at the first byte, in the
 * middle of a piece, at its edge or only at the end: a file that is the guess's beginning, or goes on
 * behind it, must not pass for it.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "sha256.h"
#include "taking.h"

enum { LONG = 1000, PIECES = 5 };

static const size_t piece[PIECES] = {1, 7, 100, 999, 5000};

static void fill(unsigned char *to, size_t n)
{
	for (size_t i = 0; i < n; i++)
		to[i] = (unsigned char)(i * 31 + i / 250);
}

static void take(const unsigned char *file, size_t n, const struct folder_seen *guess, size_t step)
{
	struct folder_seen out;
	struct taking t;
	struct sha sum;
	int rc = taking_begin(&t, step != 7, guess);

	for (size_t at = 0; !rc && at < n; at += step)
		rc = taking_add(&t, file + at, n - at < step ? n - at : step);
	assert_int_equal(taking_end(&t, rc, &out), 0);
	assert_true(out.there);
	assert_int_equal(out.size, n);
	assert_int_equal(sha256_of(file, n, sum.b), 0);
	assert_memory_equal(&out.sha, &sum, sizeof sum);
	if (step == 7) {
		assert_int_equal(out.fd, -1);
		assert_null(out.bytes);
	} else if (n) {
		assert_memory_equal(out.bytes, file, n);
	}
	folder_drop(&out);
	assert_int_equal(out.fd, -1);
}

/* A guess of so many bytes, of which one differs (at its size: none). */
static void guessed(size_t size, size_t differs)
{
	unsigned char file[LONG], guess[2 * LONG];
	struct folder_seen g = {.there = true, .size = size, .fd = -1, .bytes = guess};

	fill(file, sizeof file);
	fill(guess, sizeof guess);
	if (differs < size)
		guess[differs] ^= 1;
	assert_int_equal(sha256_of(guess, size, g.sha.b), 0);
	for (size_t i = 0; i < PIECES; i++) {
		take(file, LONG, &g, piece[i]);
		take(file, 0, &g, piece[i]);
	}
}

static void of_the_same_size(void **state)
{
	static const size_t at[] = {0, 1, 6, 7, 99, 100, 101, 500, 998, 999, LONG};

	for (size_t i = 0; i < sizeof at / sizeof *at; i++)
		guessed(LONG, at[i]);
}

static void shorter_or_longer(void **state)
{
	static const size_t size[] = {0, 1, 7, 99, 100, 999, 1001, 1100, 2 * LONG};

	for (size_t i = 0; i < sizeof size / sizeof *size; i++) {
		guessed(size[i], size[i]);
		guessed(size[i], size[i] / 2);
	}
}

static void none(void **state)
{
	const struct folder_seen not_there = {.fd = -1}, no_bytes = {.there = true, .size = LONG, .fd = -1};
	/* Of a program that is only known by its sum the size is not known: an empty file is not that one. */
	const struct folder_seen unknown = {.there = true, .fd = -1};
	unsigned char file[LONG];

	fill(file, sizeof file);
	take(file, 0, &unknown, piece[0]);
	for (size_t i = 0; i < PIECES; i++) {
		take(file, LONG, NULL, piece[i]);
		take(file, LONG, &not_there, piece[i]);
		take(file, LONG, &no_bytes, piece[i]);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(of_the_same_size),
	    cmocka_unit_test(shorter_or_longer),
	    cmocka_unit_test(none),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
