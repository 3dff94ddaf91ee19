/*
 * Goal: what a control punches is compared with what was sent, or fetched; a copy is equal by its
 * canonical form alone, and no noise, no words of a device server and no half of a tape becomes a
 * program.
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
#include "tape_case.h"

static void punches_both_at_the_end(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	punch(k, LO);
	desk_hear_for(k, 500);
}

static void punches_each_at_once(struct desk *k)
{
	desk_accept(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	load(k);
	punch(k, LO);
	desk_hear_for(k, 500);
}

/* Cases "leader, trailer": filler and line ends of the control do not count. */
static void read_back_and_equal(void **state)
{
	void (*const way[])(struct desk *) = {punches_both_at_the_end, punches_each_at_once};

	for (int i = 0; i < 2; i++) {
		begin(way[i]);
		read_backs();
		rig_run(&r);
		desk_close(&d);
		ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
		assert_int_equal(r.outcome.channel[0].compared, 1);
		assert_int_equal(r.outcome.channel[1].compared, 1);
		assert_memory_equal(
		    &r.outcome.channel[1].sha, &r.order.item[1].want, sizeof(struct sha));
	}
}

#define EDITED "%\nO4417(JOB 4417 REV C LOWER)\nN10G0X43.5\nM201\nM30\n%\n"

static void punches_another(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, UP);
	desk_hear_for(k, 300);
	punch(k, EDITED);
	desk_hear_for(k, 500);
}

static void read_back_and_different(void **state)
{
	struct sha sum = rig_sha(EDITED);

	begin(punches_another);
	read_backs();
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_DIFFERS, CARRY_HELD_NEW, CARRY_HELD_OTHER);
	assert_int_equal(r.outcome.channel[0].compared, 1);
	assert_int_equal(r.outcome.channel[1].compared, 0);
	assert_non_null(strstr(r.outcome.text, "line 3"));
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_COPY);
	assert_int_equal(r.content[0].head.item, 1);
	assert_string_equal(r.content[0].text, EDITED);
	assert_memory_equal(&r.outcome.channel[1].sha, &sum, sizeof sum);
}

static void punches_nothing(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	desk_hear_for(k, 1500);
}

static void read_back_that_does_not_come(void **state)
{
	begin(punches_nothing);
	read_backs();
	r.order.item[0].line.serial.read_back_ms = 700;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NOTHING, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.channel[0].compared, 0);
}

static void fetch_both(void **state)
{
	fetch(UP, LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	assert_int_equal(r.steps, 0);
	assert_int_equal(r.contents, 2);
	assert_string_equal(r.content[0].text, UP);
	assert_string_equal(r.content[1].text, LO);
	assert_int_equal(d.n, 0); /* nothing is sent to the control */
}

static void words_of_a_device_server_are_no_program(void **state)
{
	fetch("Device open failure\n" UP "Connection timed out\n", LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	assert_string_equal(r.content[0].text, UP);
	fetch("Port already in use\n", NULL);
	assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
}

static void a_cut_off_tape_is_no_program(void **state)
{
	static const char *const cut[] = {
	    "%\nO4417\nN10G0X4", UP "%\nO4417\nN10G0X4", UP "O4418\nN10G0X4"};

	for (unsigned i = 0; i < sizeof cut / sizeof *cut; i++) {
		fetch(cut[i], NULL);
		assert_int_equal(r.outcome.error, CARRY_ERROR_DAMAGED);
		assert_int_equal(r.contents, 1);
		assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
	}
}

static void punches_hex(struct desk *k)
{
	/* Case "high-bit garbage": 7 bits with even parity, read through an 8-bit port. */
	static const unsigned char bytes[] = {0xA5, 0x0A, 0xCF, 0xB4, 0xB4, 0xB1, 0xB7, 0x0A, 0x47,
	    0x30, 0xD8, 0xB4, 0x30, 0x2E, 0x0A, 0x4D, 0x33, 0x30, 0x0A, 0xA5, 0x0A};

	desk_accept(k);
	desk_say(k, bytes, sizeof bytes);
	desk_hear_for(k, 700);
}

static void wrong_framing_is_no_program(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_hex);
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_FRAMING);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
	assert_int_equal(r.content[0].head.size, 21);
}

static void punches_after_a_hang_up(struct desk *k)
{
	desk_accept(k);
	desk_hear_for(k, 200);
	desk_hang_up(k);
	desk_accept(k);
	punch(k, UP);
	desk_hear_for(k, 500);
	desk_hang_up(k);
	desk_accept(k);
	punch(k, LO);
	desk_hear_for(k, 500);
}

/* Before the first character a connection that is lost is made anew. */
static void fetch_on_a_new_connection(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_after_a_hang_up);
	r.order.item[0].line.serial.read_back_ms = r.order.item[1].line.serial.read_back_ms = 5000;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OTHER, CARRY_HELD_OTHER);
	assert_int_equal(r.contents, 2);
	assert_int_equal(r.outcome.channel[0].bytes, strlen(UP));
	assert_int_equal(r.outcome.channel[1].bytes, strlen(LO));
}

static void punches_half(struct desk *k)
{
	desk_accept(k);
	desk_say(k, "%\nO44", 5);
	desk_hear_for(k, 100);
	desk_hang_up(k);
}

static void fetches_that_fail(void **state)
{
	r.order.act = CARRY_FETCH;
	begin(punches_half);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_LOST, CARRY_HELD_OLD, CARRY_HELD_OLD);
	begin(never_asks);
	r.order.item[0].line.serial.read_back_ms = 500;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NOTHING, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.contents, 0);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(read_back_and_equal),
	    T(read_back_and_different),
	    T(read_back_that_does_not_come),
	    T(fetch_both),
	    T(words_of_a_device_server_are_no_program),
	    T(a_cut_off_tape_is_no_program),
	    T(wrong_framing_is_no_program),
	    T(fetch_on_a_new_connection),
	    T(fetches_that_fail),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
