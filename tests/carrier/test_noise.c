/*
 * Goal: what comes from the control when nothing should is taken neither for a request nor for
 * nothing: an alarm at the very end, noise beside its words, a damaged digit that looks like DC1.
 *
 * DC1..DC4 and parity: ISO 646 / ECMA-6 positions 1/1..1/4, ISO 840 even parity in bit 8. What a
 * control says when is common practice.
 */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "line_case.h"

static const char *words;

/* It says something when it has the closing %, while the trailer goes. */
static void speaks_at_the_end(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_say(k, words, strlen(words));
	desk_hear_for(k, 1000);
}

static void speaks(const char *what)
{
	words = what;
	begin(speaks_at_the_end);
	r.order.items = 1;
	r.order.item[0].line.serial.baud = 9600;
	r.order.item[0].line.serial.trailer = 300;
	rig_run(&r);
	desk_close(&d);
}

/*
 * What a control said behind our last block was heard by nobody, and the program counted as
 * carried: it gives its alarm when it comes to the wrong character, and that may be late.
 */
static void an_alarm_at_the_end(void **state)
{
	speaks("\r\nALARM 070 MEMORY\r\n");
	assert_int_equal(r.outcome.error, CARRY_ERROR_ALARM);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_UNKNOWN);
	assert_non_null(strstr(r.outcome.text, "the control said 'ALARM 070 MEMORY'"));
}

/* A control that punched at once what it had read, on a line without read-back, was taken for one with an
 * alarm: the machine was unknown after a good carriage. */
static void a_copy_unasked_is_no_alarm(void **state)
{
	speaks("%\nO4417(JOB J4417)\nM30\n%\n");
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_NEW);
}

/* One character or two are noise, and are told: a DC3 may have been among them. */
static void noise_is_told(void **state)
{
	speaks("~z");
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_NEW);
	assert_non_null(
	    strstr(r.outcome.text, "channel upper: 2 characters came damaged or unasked"));
	speaks("\x93");
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_null(strstr(r.outcome.text, "unasked"));
}

/* A text in ISO code. spoilt: how many of the digit 1 have the bit turned over that makes it DC1.
 */
static void punch(struct desk *k, const char *text, unsigned spoilt)
{
	unsigned char tape[1000];
	size_t n = 0;

	for (; *text; text++) {
		unsigned char c = (unsigned char)*text;

		c = (unsigned char)(c | (__builtin_popcount(c) % 2 ? 0x80 : 0));
		if (*text == '1' && spoilt) {
			c ^= 0x20;
			spoilt--;
		}
		tape[n++] = c;
	}
	desk_say(k, tape, n);
}

/* The copy of the upper program stays away for a moment after the digit: it is punched slowly. */
static void punches_a_damaged_copy(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 300);
	k->mark = k->n;
	punch(k, "%\nO4417(JOB 4417 REV C UPPER)\nN10G0X41", 4);
	if (desk_hear_for(k, 2500))
		k->failed = true; /* the lower program, into a control that punches */
	punch(k, ".5\nM201\nM30\n%\n", 0);
	desk_hear_for(k, 300);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 300);
}

static void a_digit_that_became_dc1(void **state)
{
	begin(punches_a_damaged_copy);
	for (int i = 0; i < 2; i++) {
		r.order.item[i].line.serial.read_back = LINE_READ_BACK_PUNCH;
		r.order.item[i].line.serial.silence_ms = 4000;
		r.order.item[i].line.serial.first_ms = 10000;
	}
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_DAMAGED, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.item, 0);
	assert_int_equal(r.outcome.channel[0].compared, 0);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
}

/* A text before the first % of a copy is the copy's, and no alarm. */
static void labels_its_copy(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_say(k, "PUNCH\r\n", 7);
	punch(k, UP, 0);
	desk_hear_for(k, 1000);
}

static void a_label_is_no_alarm(void **state)
{
	begin(labels_its_copy);
	r.order.items = 1;
	r.order.item[0].line.serial.baud = 9600;
	r.order.item[0].line.serial.trailer = 300;
	r.order.item[0].line.serial.read_back = LINE_READ_BACK_PUNCH;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].compared, 1);
}

/* A copy that breaks off: from the silence on a DC1 is a request again. */
static void breaks_its_copy_off(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 300);
	k->mark = k->n;
	punch(k, "%\nO4417(JOB", 0);
	desk_hear_for(k, 800);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 300);
}

static void a_copy_that_breaks_off(void **state)
{
	begin(breaks_its_copy_off);
	for (int i = 0; i < 2; i++)
		r.order.item[i].line.serial.read_back = LINE_READ_BACK_PUNCH;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_DAMAGED, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.channel[0].compared, 0);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(an_alarm_at_the_end),
	    T(a_copy_unasked_is_no_alarm),
	    T(noise_is_told),
	    T(a_digit_that_became_dc1),
	    T(a_label_is_no_alarm),
	    T(a_copy_that_breaks_off),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
