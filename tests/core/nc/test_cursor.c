/*
 * Goal: a cursor gives the blocks that the reader hands out, one after the other and from any block
 * on, whatever ends the lines and however long they are.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "cursor.h"

enum { BLOCKS_MAX = 4096 };

static struct nc_block expected[BLOCKS_MAX];
static struct nc_word words[BLOCKS_MAX][NC_WORDS_MAX];
static size_t blocks;

static int keep(void *ctx, const struct nc_block *b)
{
	(void)ctx;
	assert_true(blocks < BLOCKS_MAX);
	expected[blocks] = *b;
	memcpy(words[blocks], b->word, b->words * sizeof(*b->word));
	expected[blocks].word = words[blocks];
	blocks++;
	return 0;
}

static void same_block(const struct nc_cursor *c, const struct nc_block *want, const char *text)
{
	const struct nc_block *b = &c->block;

	assert_int_equal(b->line, want->line);
	assert_int_equal(b->offset, want->offset);
	assert_int_equal(b->flags, want->flags);
	assert_int_equal(b->skip, want->skip);
	assert_int_equal(b->length, want->length);
	assert_memory_equal(b->text, text + want->offset, want->length);
	assert_int_equal(b->words, want->words);
	for (size_t i = 0; i < b->words; i++) {
		assert_int_equal(b->word[i].letter, want->word[i].letter);
		assert_int_equal(b->word[i].flags, want->word[i].flags);
		assert_int_equal(b->word[i].scale, want->word[i].scale);
		assert_int_equal(b->word[i].col, want->word[i].col);
		assert_int_equal(b->word[i].mantissa, want->word[i].mantissa);
	}
	assert_int_equal(b->comment != NULL, want->comment != NULL);
	assert_int_equal(b->comment_length, want->comment_length);
	assert_int_equal(b->name_col, want->name_col);
	assert_int_equal(b->call_col, want->call_col);
	assert_int_equal(b->call_length, want->call_length);
	if (b->flags & NC_CALL)
		assert_int_equal(b->call[-1], '(');
}

static void same(const char *s, size_t n)
{
	char *text = malloc(n ? n : 1); /* so that a sanitizer sees a read past the end */
	struct nc_reader *r = nc_reader_new(keep, NULL);
	struct nc_shape shape;
	struct nc_cursor c;

	assert_true(text && r);
	memcpy(text, s, n);
	blocks = 0;
	nc_reader_call(r, "MO");
	assert_int_equal(nc_reader_feed(r, text, n), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
	assert_true(nc_cursor_begin(&c, text, n));
	nc_cursor_call(&c, "MO");
	for (size_t i = 0; i < blocks; i++) {
		assert_true(nc_cursor_next(&c));
		same_block(&c, &expected[i], text);
	}
	assert_false(nc_cursor_next(&c));
	/* backwards, from the first byte of the text of each: it lies behind mark and filler */
	for (size_t i = blocks; i-- > 0;) {
		nc_cursor_seek(&c, expected[i].offset, expected[i].line);
		if (nc_cursor_next(&c))
			same_block(&c, &expected[i], text);
		else
			assert_int_equal(expected[i].offset, n);
	}
	nc_cursor_end(&c);
	free(text);
}

static void test_line_ends(void **state)
{
	static const char *const list[] = {"", "\n", "G0", "G0\n", "G0\r", "G0\r\nX1\r\n",
	    "G0\r\r\nX1\r\r\n", "G0\rX1\r\rX2", "G0\r\r", "\r\n\n\rX1", "%\nO1\nM30\n%",
	    "\xEF\xBB\xBFO1\nX1.\n", "\xEF\xBB\xBF", "N1 /2 X1. (NOTE)\n;TEXT\n(OPEN\n",
	    "#1=2 X#1\nIF[#1EQ2]GOTO1", "O<PART>\nN5 MO(7,1)\nM98 <SUB>\nMO(7\n"};

	for (size_t i = 0; i < sizeof(list) / sizeof(list[0]); i++)
		same(list[i], strlen(list[i]));
	same("\0\0G0\0\nX1\x7f\n", 11);
}

static void test_long(void **state)
{
	static const size_t length[] = {
	    NC_LINE_MAX - 1, NC_LINE_MAX, NC_LINE_MAX + 1, 3 * (size_t)NC_LINE_MAX};
	char *s = malloc(3 * (size_t)NC_LINE_MAX + 16);

	assert_non_null(s);
	for (size_t i = 0; i < sizeof(length) / sizeof(length[0]); i++) {
		memset(s, ' ', length[i]);
		memcpy(s, "X1.", 3);
		memcpy(s + length[i] - 3, "Z2.", 3);
		same(s, length[i]);
		memcpy(s + length[i], "\nX3.\n", 5);
		same(s, length[i] + 5);
	}
	free(s);
}

/* Lines that end in CR alone: each was searched to the end of the text for the LF that never came,
 * so that the ladder of 30 MB took minutes. This text takes part of a second, or hours. */
static void test_cr_alone(void **state)
{
	const size_t lines = 4000000;
	char *s = malloc(lines * 3);
	struct nc_cursor c;
	size_t n = 0;

	assert_non_null(s);
	for (size_t i = 0; i < lines; i++)
		memcpy(s + 3 * i, "X1\r", 3);
	assert_true(nc_cursor_begin(&c, s, lines * 3));
	while (nc_cursor_next(&c))
		n++;
	assert_int_equal(n, lines);
	nc_cursor_end(&c);
	free(s);
}

static void test_random(void **state)
{
	static const char alphabet[] = "GXMNO0123456789.-+#[](/%; \n\n\n\r\t=<>)MO(";
	uint64_t seed = 88172645463325252u;
	char s[600];

	for (int round = 0; round < 3000; round++) {
		size_t n = (size_t)round % sizeof(s);

		for (size_t i = 0; i < n; i++) {
			seed ^= seed << 13;
			seed ^= seed >> 7;
			seed ^= seed << 17;
			s[i] = alphabet[(seed >> 20) % (sizeof(alphabet) - 1)];
		}
		same(s, n);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_line_ends),
	    cmocka_unit_test(test_long),
	    cmocka_unit_test(test_cr_alone),
	    cmocka_unit_test(test_random),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
