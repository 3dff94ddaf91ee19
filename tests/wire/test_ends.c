/*
 * Goal: a program gets the line ends that a control wants and nothing else of it changes: none is
 * doubled, whatever form they had, and in however many pieces it comes. That it still compares equal
 * is decided by the canonical form (canonical.h).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdlib.h>
#include <string.h>
#include "canonical.h"
#include "ends.h"

#define BYTES(s) s, sizeof(s) - 1

enum { MOST = 256 };

/* program in pieces of at most this many bytes. */
static size_t in_pieces(
    const uint8_t *program, size_t size, size_t piece, const char *end, uint8_t *out)
{
	struct ends e;
	size_t made = 0;

	ends_begin(&e, end);
	for (size_t at = 0; at < size; at += piece)
		made += ends_feed(
		    &e, program + at, size - at < piece ? size - at : piece, out + made);
	return made;
}

static void becomes(const void *program, size_t size, const char *end, const char *expected)
{
	uint8_t out[ENDS_GROW * MOST];
	struct canonical a, b;

	for (size_t piece = 1; piece <= size + 1; piece++) {
		assert_int_equal(in_pieces(program, size, piece, end, out), strlen(expected));
		assert_memory_equal(out, expected, strlen(expected));
	}
	assert_int_equal(canonical_make(&a, program, size), 0);
	assert_int_equal(canonical_make(&b, out, size ? strlen(expected) : 0), 0);
	assert_int_equal(canonical_difference(&a, &b), 0);
	canonical_free(&a);
	canonical_free(&b);
}

static void each_form(void **state)
{
	becomes(BYTES(""), "\r\n", "");
	becomes(BYTES("%\nM30\n%\n"), "\r\n", "%\r\nM30\r\n%\r\n");
	becomes(BYTES("%\r\nM30\r\n%\r\n"), "\n", "%\nM30\n%\n");
	becomes(BYTES("%\nM30\n%\n"), "\n", "%\nM30\n%\n");
	becomes(BYTES("%\rM30\r%\r"), "\r\n", "%\r\nM30\r\n%\r\n");
	becomes(BYTES("%\rM30\r%\r"), "\n", "%\nM30\n%\n");
	becomes(BYTES("%\n\r\rM30\n\r\r%\n\r\r"), "\r\n", "%\r\nM30\r\n%\r\n");
	becomes(BYTES("%\rM30\n\r\r%\r\r\n"), "\r\n", "%\r\nM30\r\n%\r\n");
}

/* CR LF that was made CR CR LF, or LF LF, is how programs come to have twice the lines. */
static void none_is_doubled(void **state)
{
	becomes(BYTES("%\r\nM30\r\n%\r\n"), "\r\n", "%\r\nM30\r\n%\r\n");
	becomes(BYTES("%\r\r\nO4417(REV C)\r\r\nM30\r\r\n%\r\r\n"), "\r\n",
	    "%\r\nO4417(REV C)\r\nM30\r\n%\r\n");
	becomes(BYTES("%\r\n\r\nM30\r\n"), "\r\n", "%\r\n\r\nM30\r\n");
	becomes(BYTES("\n\n"), "\r\n", "\r\n\r\n");
	becomes(BYTES("%\r\n\r\n G0 \t X1\r\n%\r\n"), "\n", "%\n\n G0 \t X1\n%\n");
}

static void no_end_at_the_end(void **state)
{
	becomes(BYTES("%\nM30\n%"), "\r\n", "%\r\nM30\r\n%");
	becomes(BYTES("%\r\nM30\r\n%"), "\n", "%\nM30\n%");
	becomes(BYTES("%"), "\r\n", "%");
	becomes(BYTES("%\r\nM30\r"), "\r\n", "%\r\nM30\r\n");
}

/* What comes out is its own form, and from either form the other comes back. */
static void twice_is_once(void **state)
{
	static const uint8_t alphabet[] = "%GX1 \n\n\r\r";
	uint32_t seed = 4417;

	for (int round = 0; round < 20000; round++) {
		uint8_t program[MOST], crlf[2 * MOST], again[4 * MOST], lf[2 * MOST];
		size_t n, n_crlf, n_lf;

		seed = seed * 1664525 + 1013904223;
		n = (seed >> 16) % 40;
		for (size_t i = 0; i < n; i++) {
			seed = seed * 1664525 + 1013904223;
			program[i] = alphabet[(seed >> 16) % (sizeof(alphabet) - 1)];
		}
		n_crlf = in_pieces(program, n, 1 + round % 7, "\r\n", crlf);
		n_lf = in_pieces(program, n, 1 + round % 5, "\n", lf);
		assert_true(n_crlf <= ENDS_GROW * n);
		assert_true(n_lf <= n);
		assert_int_equal(in_pieces(crlf, n_crlf, 3, "\r\n", again), n_crlf);
		assert_memory_equal(again, crlf, n_crlf);
		assert_int_equal(in_pieces(crlf, n_crlf, 3, "\n", again), n_lf);
		assert_memory_equal(again, lf, n_lf);
		assert_int_equal(in_pieces(lf, n_lf, 3, "\r\n", again), n_crlf);
		assert_memory_equal(again, crlf, n_crlf);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_form),
	    cmocka_unit_test(none_is_doubled),
	    cmocka_unit_test(no_end_at_the_end),
	    cmocka_unit_test(twice_is_once),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
