/*
 * Goal: the bench control executes what a control would while it reads: whole blocks alone, in their
 * order, up to M02, M30 or the closing %, and nothing behind that.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "execute.h"

static struct execute e;

/* Feed a text in this code, up to its end or the first other answer; *left: what was not taken. */
static enum execute_answer feed(enum code code, const char *text, size_t *left)
{
	enum execute_answer a = EXECUTE_MORE;
	size_t i = 0;

	execute_start(&e, code);
	for (; text[i] && a == EXECUTE_MORE; i++)
		a = execute_take(&e, code_send(code, (uint8_t)text[i]));
	*left = strlen(text + i);
	return a;
}

static void expect(enum code code, const char *text, enum execute_answer a, const char *executed,
    size_t left)
{
	size_t rest;

	assert_int_equal(feed(code, text, &rest), a);
	assert_int_equal(rest, left);
	assert_int_equal(e.n, strlen(executed));
	assert_memory_equal(e.text ? e.text : "", executed, e.n);
}

static void blocks_up_to_the_end(void **state)
{
	static const enum code codes[] = {CODE_ASCII, CODE_ISO, CODE_EIA};

	for (size_t i = 0; i < 3; i++) {
		enum code c = codes[i];

		expect(c, "%\nO1(PART)\nN10G0X1.\nM30\n%\n", EXECUTE_END, "O1(PART)\nN10G0X1.\nM30\n", 2);
		assert_int_equal(e.blocks, 3);
		expect(c, "%\nO1\nM02\nN10\n%\n", EXECUTE_END, "O1\nM02\n", 6);
		expect(c, "\nO1\nN10G0X1.\n%\n", EXECUTE_END, "O1\nN10G0X1.\n", 1);
		/* A block is executed when its end was read. */
		expect(c, "%\nO1\nN10G0X1", EXECUTE_MORE, "O1\n", 0);
		expect(c, "%\nO1\nN20M300\n(M30)\nM3\nM30", EXECUTE_MORE, "O1\nN20M300\n(M30)\nM3\n", 0);
		expect(c, "%\n\n\nO1\n\nM30\n", EXECUTE_END, "O1\nM30\n", 0);
		/* Leader. */
		expect(c, "AB1\nO1\n", EXECUTE_MORE, "O1\n", 0);
		assert_true(e.begun);
		expect(c, "AB1", EXECUTE_MORE, "", 0);
		assert_false(e.begun);
	}
	execute_free(&e);
}

static void damaged(void **state)
{
	size_t left;

	feed(CODE_ISO, "%\nO1\nN1", &left);
	assert_int_equal(execute_take(&e, code_send(CODE_ISO, '0') ^ 1), EXECUTE_PARITY);
	assert_int_equal(e.blocks, 1);
	/* A program after another one begins from nothing. */
	expect(CODE_ISO, "%\nM30\n", EXECUTE_END, "M30\n", 0);
	assert_int_equal(e.blocks, 1);
	execute_free(&e);
}

static void long_ones(void **state)
{
	execute_start(&e, CODE_ASCII);
	execute_take(&e, '%');
	execute_take(&e, '\n');
	for (int i = 0; i < 5000; i++)
		for (const char *c = "N10G1X12.345Z-1.5\n"; *c; c++)
			assert_int_equal(execute_take(&e, (uint8_t)*c), EXECUTE_MORE);
	for (int i = 0; i < 5000; i++)
		assert_int_equal(execute_take(&e, 'X'), EXECUTE_MORE);
	assert_int_equal(e.blocks, 5000);
	assert_int_equal(e.n, 5000 * 18);
	assert_int_equal(execute_take(&e, '\n'), EXECUTE_MORE);
	assert_int_equal(e.n, 5000 * 18 + 5001);
	execute_free(&e);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(blocks_up_to_the_end),
	    cmocka_unit_test(damaged),
	    cmocka_unit_test(long_ones),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
