/*
 * Goal: an operator may have all programs of a control punched in one stream: the one that was sent
 * is found in it by its number and compared, the others are handed over and named, and nothing is
 * guessed and nothing dropped.
 *
 * The forms of such streams are common practice of controls with a punch.
 */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "tape_case.h"

static const char *copy_of_lower;

static void punches_all_of_lower(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	punch(k, copy_of_lower);
	desk_hear_for(k, 500);
}

static void read_back_of(const char *lower, const char *copy)
{
	copy_of_lower = copy;
	begin(punches_all_of_lower);
	rig_program(&r, 1, lower);
	read_backs();
	rig_run(&r);
	desk_close(&d);
}

/* The operator has all programs of the channel punched: only the first counted, and the rest was
 * dropped without a word. */
static void all_programs_in_the_copy(void **state)
{
	static const char *const form[] = {"%\n" OTHER BODY("LOWER") MACRO "%\n",
	    "%\n" MACRO "%\n" BODY("LOWER") "%\n" OTHER "%\n",
	    "%\n" OTHER "%\n%\n" MACRO "%\n%\n" BODY("LOWER") "%\n"};

	for (unsigned i = 0; i < sizeof form / sizeof *form; i++) {
		read_back_of(LO, form[i]);
		ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
		assert_int_equal(r.outcome.channel[1].compared, 1);
		assert_int_equal(r.outcome.channel[1].more, 2);
		assert_int_equal(r.outcome.channel[0].more, 0);
		assert_int_equal(r.contents, 2);
		content(1, i == 1, CARRY_ROLE_MORE, "O0001", OTHER);
		content(1, i != 1, CARRY_ROLE_MORE, "O9001", MACRO);
	}
}

/* A main program with its subprogram is kept as two, and punched in the order of their numbers. */
static void a_program_that_is_kept_as_two(void **state)
{
	static const char sent[] = "%\n" BODY("LOWER") "O0417\nM99\n%\n";

	read_back_of(sent, "%\n" OTHER "O417\nM99\n" BODY("LOWER") "%\n");
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_non_null(strstr(r.outcome.text, "first in line 6"));
	content(1, 0, CARRY_ROLE_COPY, "", "%\n" BODY("LOWER") "O417\nM99\n%\n");
	content(1, 1, CARRY_ROLE_MORE, "O0001", OTHER);
	read_back_of(sent, "%\nO0417\nM99\n" BODY("LOWER") OTHER "%\n");
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_memory_equal(&r.outcome.channel[1].sha, &r.order.item[1].want, sizeof(struct sha));
	assert_int_equal(r.contents, 1);
	/* One of the two is not there any more. */
	read_back_of(sent, "%\n" BODY("LOWER") "%\n");
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_non_null(strstr(r.outcome.text, "O0417 of it did not come"));
	content(1, 0, CARRY_ROLE_COPY, "", "%\n" BODY("LOWER") "%\n");
}

static void copies_that_are_none(void **state)
{
	static const char twice[] = "%\n" BODY("LOWER") OTHER BODY("UPPER") "%\n",
	                  not_it[] = "%\n" OTHER MACRO "%\n";

	/* Both channels' programs in one stream: which is which nobody said. */
	read_back_of(LO, twice);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_UNKNOWN);
	assert_non_null(strstr(r.outcome.text, "O4417 came twice with different text"));
	assert_int_equal(r.outcome.channel[1].has_sha, 0);
	content(1, 0, CARRY_ROLE_COPY, "", twice);
	content(1, 1, CARRY_ROLE_MORE, "O0001", OTHER);
	read_back_of(LO, not_it);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_non_null(strstr(r.outcome.text, "O0001, O9001 came, and not O4417"));
	content(1, 0, CARRY_ROLE_COPY, "", not_it);
	assert_int_equal(r.contents, 3);
}

/* The line is the line of the whole, and the program in which it is has its name. */
static void damage_in_one_of_several(void **state)
{
	fetch("%\n" OTHER "%\n%\nO9001\nG\x13"
	      "0\nM99\n%\n",
	    NULL);
	assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
	assert_non_null(strstr(r.outcome.text, "line 7 of all that came, in O9001"));
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
}

/* Who fetches has no program to choose by: everything is handed over, as a whole and one by one. */
static void fetch_all_programs(void **state)
{
	static const char all[] = "%\n" OTHER BODY("UPPER") "%\n%\n(NOTE)\n" MACRO "%\n";

	fetch("Port 3\n"
	      "%\n" OTHER BODY("UPPER") "%\n%\n(NOTE)\n" MACRO "%\nbye bye\n",
	    LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OTHER, CARRY_HELD_OTHER);
	assert_int_equal(r.contents, 6);
	content(0, 0, CARRY_ROLE_COPY, "", all);
	content(0, 1, CARRY_ROLE_MORE, "O0001", OTHER);
	content(0, 2, CARRY_ROLE_MORE, "O4417", BODY("UPPER"));
	content(0, 3, CARRY_ROLE_MORE, "", "(NOTE)\n");
	content(0, 4, CARRY_ROLE_MORE, "O9001", MACRO);
	assert_int_equal(r.outcome.channel[0].more, 4);
	assert_int_equal(r.outcome.channel[0].left_out, strlen("Port3byebye"));
	assert_int_equal(r.outcome.channel[1].more, 0);
	assert_string_equal(r.content[5].text, LO);
}

static void punches_with_pauses(struct desk *k)
{
	desk_accept(k);
	punch_without_end(k, UP);
	desk_hear_for(k, 600);
	punch_without_end(k, "%\n" OTHER "%\n");
	desk_hear_for(k, 1500);
	punch(k, LO);
	desk_hear_for(k, 500);
}

/* The operator needs a moment between two programs; the silence that ends them all is a setting. */
static void fetch_with_pauses_between(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_with_pauses);
	r.order.item[0].line.serial.silence_ms = r.order.item[1].line.serial.silence_ms = 1200;
	r.order.item[1].line.serial.read_back_ms = 5000;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OTHER, CARRY_HELD_OTHER);
	assert_int_equal(r.contents, 4);
	content(0, 0, CARRY_ROLE_COPY, "", UP "%\n" OTHER "%\n");
	content(0, 2, CARRY_ROLE_MORE, "O0001", OTHER);
	assert_string_equal(r.content[3].text, LO);
}

enum { MANY = CARRY_MORE_MAX + 20 };
static char many[MANY * 16];

/* More programs than are handed over one by one are all in the whole. */
static void fetch_very_many(void **state)
{
	char *at = many + sprintf(many, "%%\n");

	for (int i = 0; i < MANY; i++)
		at += sprintf(at, "O%d\nM30\n", 1000 + i);
	sprintf(at, "%%\n");
	fetch(many, LO);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].more, MANY);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_COPY);
	assert_int_equal(r.content[0].head.size, strlen(many));
	assert_int_equal(r.contents, CARRY_MORE_MAX + 2);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(all_programs_in_the_copy),
	    T(a_program_that_is_kept_as_two),
	    T(copies_that_are_none),
	    T(damage_in_one_of_several),
	    T(fetch_all_programs),
	    T(fetch_with_pauses_between),
	    T(fetch_very_many),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
