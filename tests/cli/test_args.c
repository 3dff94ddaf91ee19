/* Goal: options are found in any place and any form, and what is not one is refused, never guessed.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdlib.h>
#include <string.h>
#include "args.h"
#include "exit.h"

static struct args_option options[2];
static struct args args;
static char words[400];
static char *argv[20];

static int read_words(const char *line)
{
	int argc = 0;

	options[0] = (struct args_option){.name = "machine", .takes = true};
	options[1] = (struct args_option){.name = "json"};
	strcpy(words, line);
	for (char *s = strtok(words, " "); s; s = strtok(NULL, " "))
		argv[argc++] = s;
	return args_read(argc, argv, options, 2, &args);
}

static void test_forms(void **state)
{
	assert_int_equal(read_words("check a --machine m b --json"), 0);
	assert_int_equal(args.n, 2);
	assert_string_equal(args.rest[0], "a");
	assert_string_equal(args.rest[1], "b");
	assert_string_equal(options[0].value, "m");
	assert_true(options[1].set);
	assert_int_equal(read_words("check --machine=m=n -- --json -"), 0);
	assert_string_equal(options[0].value, "m=n");
	assert_false(options[1].set);
	assert_int_equal(args.n, 2);
	assert_string_equal(args.rest[0], "--json");
	assert_int_equal(read_words("check"), 0);
	assert_int_equal(args.n, 0);
	assert_int_equal(read_words("check --machine="), 0);
	assert_string_equal(options[0].value, "");
}

static void test_wrong(void **state)
{
	assert_int_equal(read_words("check --machin m"), EXIT_USE);
	assert_int_equal(read_words("check -m"), EXIT_USE);
	assert_int_equal(read_words("check --machine"), EXIT_USE);
	assert_int_equal(read_words("check --json=1"), EXIT_USE);
	assert_int_equal(read_words("check --json --json"), EXIT_USE);
	assert_int_equal(read_words("check --"), 0);
	assert_int_equal(read_words("check ---"), EXIT_USE);
}

/* An option that may stand several times keeps its values in order, as many as there is room for.
 */
static void test_repeated(void **state)
{
	const char *with[2];
	struct args_option several = {.name = "with", .takes = true, .values = with, .room = 2};
	char *line[] = {"check", "--with", "a", "x", "--with=b", "--with", "c", NULL};

	assert_int_equal(args_read(5, line, &several, 1, &args), 0);
	assert_int_equal(several.n, 2);
	assert_string_equal(with[0], "a");
	assert_string_equal(with[1], "b");
	assert_string_equal(several.value, "b");
	assert_int_equal(args.n, 1);
	several = (struct args_option){.name = "with", .takes = true, .values = with, .room = 2};
	assert_int_equal(
	    args_read(7, (char *[]){"check", "--with=a", "--with", "b", "--with", "c", "d"},
	        &several, 1, &args),
	    EXIT_USE);
	several = (struct args_option){.name = "with", .takes = true, .values = with, .room = 2};
	assert_int_equal(
	    args_read(4, (char *[]){"check", "--with", "a", "--with"}, &several, 1, &args),
	    EXIT_USE);
}

static void test_number(void **state)
{
	unsigned long v;

	assert_true(args_number("width", "60", 60, 500, &v));
	assert_int_equal(v, 60);
	assert_false(args_number("width", "59", 60, 500, &v));
	assert_false(args_number("width", "501", 60, 500, &v));
	assert_false(args_number("width", "", 0, 500, &v));
	assert_false(args_number("width", "-1", 0, 500, &v));
	assert_false(args_number("width", "0x60", 0, 500, &v));
	assert_false(args_number("width", "99999999999999999999999", 0, 500, &v));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_forms),
	    cmocka_unit_test(test_wrong),
	    cmocka_unit_test(test_repeated),
	    cmocka_unit_test(test_number),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
