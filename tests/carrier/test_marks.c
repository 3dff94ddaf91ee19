/*
 * Goal: a character that a local port received with wrong parity or framing is damage where it
 * stands, whether or not the driver counts such errors anywhere else; and what only looks like a
 * mark is none. The marks are POSIX.1's, termios.h, INPCK and PARMRK; the test plays the kernel.
 */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <cmocka.h>
#include "port_case.h"

#define OPEN_MS 700 /* until the port is open: what comes before is thrown away */
#define WRONG "\xFF\x00"

static const char *tape;
static size_t tape_n;

static void plays_the_tape(struct desk *k)
{
	desk_hear_for(k, OPEN_MS);
	desk_say(k, tape, tape_n);
	desk_hear_for(k, 1500);
}

/* One channel over a port whose driver counts errors elsewhere, or not. */
static void run(enum carry_act act, void (*script)(struct desk *), bool counts)
{
	r.order.act = act;
	r.order.items = 1;
	begin_port(script);
	rig_write(&r, "lines", counts ? "cdD" : "cdDn");
	setenv("YOKE_TEST_LINES", rig_path(&r, "lines"), 1);
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	r.order.item[0].line.serial.framing = LINE_7E2;
	rig_run(&r);
	unsetenv("YOKE_TEST_LINES");
	end_port();
}

static void fetch(const char *what, size_t n, bool counts)
{
	tape = what;
	tape_n = n;
	run(CARRY_FETCH, plays_the_tape, counts);
}

#define FETCH(what, counts) fetch((what), sizeof(what) - 1, counts)

static void the_port_is_asked_to(void **state)
{
	unsigned iflag;

	FETCH("%\nO1\nM30\n%\n", true);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(sscanf(rig_read(&r, "settings"), "%o", &iflag), 1);
	assert_int_equal(iflag & (INPCK | PARMRK), INPCK | PARMRK);
	assert_int_equal(iflag & (IGNPAR | IGNBRK | BRKINT | ISTRIP), 0);
}

/*
 * An adapter's driver that looks at parity only when asked, and counts it nowhere: a digit with a
 * wrong bit came as another digit, and the text was taken for the machine's program.
 */
static void a_wrong_character(void **state)
{
	for (int counts = 0; counts <= 1; counts++) {
		FETCH("%\nO1\nN10 G1 X4" WRONG "3.5\nM30\n%\n", counts);
		assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
		assert_int_equal(r.outcome.channel[0].line_errors, 1);
		assert_non_null(strstr(r.outcome.text, "1 parity"));
		assert_int_equal(r.contents, 1);
		assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
		assert_non_null(strstr(r.content[0].text, "N10 G1 X43.5"));
	}
}

/* All of them: the port's framing is not the control's. */
static void every_character_wrong(void **state)
{
	FETCH(WRONG "%" WRONG "\n" WRONG "M" WRONG "3" WRONG "0" WRONG "\n" WRONG "%" WRONG "\n",
	    false);
	assert_int_equal(r.outcome.error, CARRY_ERROR_FRAMING);
	assert_non_null(strstr(r.outcome.text, "8 parity"));
}

static void a_break_without_count(void **state)
{
	FETCH("%\nO1\nM3" WRONG "\0"
	      "0\n%\n",
	    false);
	assert_int_equal(r.outcome.error, CARRY_ERROR_BREAK);
	assert_int_equal(r.outcome.channel[0].line_errors, 1);
}

/* FF comes doubled; in a leader it is a rubbed-out place. */
static void the_character_ff(void **state)
{
	FETCH("\xFF\xFF\xFF\xFF%\nO1(\xFF\xFF)\nM30\n%\n", true);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_string_equal(r.content[0].text, "%\nO1(\xFF)\nM30\n%\n");
}

static size_t after;

static void holds_without_parity(struct desk *k)
{
	desk_hear_for(k, OPEN_MS);
	desk_say(k, "\x11", 1);
	desk_hear(k, 300, 5000);
	desk_say(k, WRONG "\x13", 3);
	desk_hear_for(k, 200); /* what is on its way */
	after = desk_hear_for(k, 800);
	desk_say(k, "\x11", 1);
	desk_hear_for(k, 4000);
}

/* A control may say DC3 without its parity: it holds all the same. */
static void a_dc3_without_parity(void **state)
{
	make_long();
	rig_program(&r, 0, long_program);
	run(CARRY_SEND, holds_without_parity, false);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_UNKNOWN);
	assert_int_equal(after, 0);
	assert_in_range(r.outcome.channel[0].held_ms, 900, 3000);
	assert_int_equal(r.outcome.channel[0].line_errors, 1);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(the_port_is_asked_to),
	    T(a_wrong_character),
	    T(every_character_wrong),
	    T(a_break_without_count),
	    T(the_character_ff),
	    T(a_dc3_without_parity),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
