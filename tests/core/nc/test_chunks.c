/*
 * Goal: what is handed out depends on the bytes alone. Byte by byte, in odd pieces and at once give
 * the same, for programs, for random bytes and for lines beyond every bound; and nothing that a
 * file can hold trips the reader.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "dump.h"

static void same_in_pieces(const char *bytes, size_t n)
{
	static const size_t steps[] = {1, 2, 3, 7, 64, 1000};
	struct text whole = {0};

	dump_read(&whole, bytes, n, 0);
	for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
		struct text t = {0};
		dump_read(&t, bytes, n, steps[i]);
		assert_int_equal(t.n, whole.n);
		assert_memory_equal(t.s, whole.s, t.n);
		text_free(&t);
	}
	text_free(&whole);
}

/* xorshift64: the same bytes in every run. */
static uint64_t random_state = 88172645463325252u;

static uint32_t next_random(void)
{
	random_state ^= random_state << 13;
	random_state ^= random_state >> 7;
	random_state ^= random_state << 17;
	return (uint32_t)(random_state >> 16);
}

/* Bytes that mean something to the reader, so that random ones meet in every order. */
static void hostile(void **state)
{
	static const char alphabet[] =
	    "\r\r\r\n\n\0\0\x7F\x1A\t  ((())%/;:OMNGX#[]=+-..,0123459abIFGOTO\xEF\xBB"
	    "\xBF\xC2\xB0\xE2\x80@";
	char bytes[600];

	for (int round = 0; round < 1500; round++) {
		size_t n = next_random() % sizeof bytes;
		for (size_t i = 0; i < n; i++)
			bytes[i] = alphabet[next_random() % (sizeof alphabet - 1)];
		same_in_pieces(bytes, n);
	}
}

static void random_bytes(void **state)
{
	char bytes[500];

	for (int round = 0; round < 300; round++) {
		size_t n = next_random() % sizeof bytes;
		for (size_t i = 0; i < n; i++)
			bytes[i] = (char)next_random();
		same_in_pieces(bytes, n);
	}
}

static void borders(void **state)
{
	static const char *const text[] = {"", "\r", "\r\r", "\r\r\r", "\r\r\n", "\r\n\r", "A\r\rB",
	    "A\rB\r\nC\n", "\xEF\xBB\xBF", "\xEF\xBB", "\xEF\xBB\xBF%\r\r\n%", "(", "X", "X1 \n.5",
	    "#", "X[", "/", "%"};

	for (size_t i = 0; i < sizeof text / sizeof text[0]; i++)
		same_in_pieces(text[i], strlen(text[i]));
}

/* A file larger than what is read at once, with every kind of line end. */
static void large(void **state)
{
	static const char *const ends[] = {"\n", "\r\n", "\r", "\r\r\n"};
	struct text t = {0};

	for (int i = 0; i < 12000; i++)
		text_printf(&t, "N%d G1 X%d.%03d Z-%d.5 (PASS %d)%s", i % 99999, i % 90, i % 1000,
		    i % 50, i, ends[i / 7 % 4]);
	assert_false(t.failed);
	same_in_pieces(t.s, t.n);
	text_free(&t);
}

static int longest(void *ctx, const struct nc_block *b)
{
	size_t *v = ctx;

	if (b->length > v[0])
		v[0] = b->length;
	for (size_t i = 0; i < b->faults; i++)
		v[1] += b->fault[i].kind == NC_FAULT_LONG;
	v[2] += b->words;
	return 0;
}

/* NC_LINE_MAX holds for a line in one piece and for one in many; what comes after it is read. */
static void long_line(void **state)
{
	static const size_t over[] = {0, 1, 5000, 300000};

	for (size_t i = 0; i < sizeof over / sizeof over[0]; i++) {
		size_t n = NC_LINE_MAX + over[i], v[3] = {0};
		char *bytes = malloc(n + 8);
		struct nc_reader *r = nc_reader_new(longest, v);
		struct nc_shape s;
		assert_non_null(bytes);
		memset(bytes, ' ', n);
		memcpy(bytes, "G1", 2);
		memcpy(bytes + n, "\r\nM203\r\n", 8);
		assert_int_equal(nc_reader_feed(r, bytes, n + 8), 0);
		assert_int_equal(nc_reader_finish(r, &s), 0);
		nc_reader_free(r);
		assert_int_equal(v[0], NC_LINE_MAX);
		assert_int_equal(v[1], over[i] > 0);
		assert_int_equal(v[2], 2);
		assert_int_equal(s.lines, 2);
		same_in_pieces(bytes, n + 8);
		free(bytes);
	}
}

/* More words than a block may have: a fault, and the words that fit. */
static void many_words(void **state)
{
	struct text t = {0};
	size_t v[3] = {0};
	struct nc_reader *r = nc_reader_new(longest, v);
	struct nc_shape s;

	for (int i = 0; i < NC_WORDS_MAX + 1; i++)
		text_printf(&t, "X%d ", i);
	assert_int_equal(nc_reader_feed(r, t.s, t.n), 0);
	assert_int_equal(nc_reader_finish(r, &s), 0);
	nc_reader_free(r);
	assert_int_equal(v[1], 1);
	assert_int_equal(v[2], NC_WORDS_MAX);
	same_in_pieces(t.s, t.n);
	text_free(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(hostile),
	    cmocka_unit_test(random_bytes),
	    cmocka_unit_test(borders),
	    cmocka_unit_test(large),
	    cmocka_unit_test(long_line),
	    cmocka_unit_test(many_words),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
