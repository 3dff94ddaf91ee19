/*
 * Goal: where the control knows its channels by words in the stream, what it punches is compared
 * without them, and a text of another channel is never taken for the one that was asked.
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

static void channel_words(void)
{
	for (int i = 0; i < 2; i++) {
		strcpy(r.order.word[i].channel, r.order.item[i].channel);
		strcpy(r.order.word[i].word, i ? "CH2" : "CH1");
		strcpy(r.order.item[i].line.serial.channel_word, r.order.word[i].word);
	}
}

static const char *heard;

static void takes_two_at_once(struct desk *k)
{
	desk_accept(k);
	desk_hear_for(k, 1500);
	heard = desk_text(k);
}

/* Without DC1 nobody could select the second channel on one line, unless each program says its own.
 */
static void two_programs_that_say_their_channels(void **state)
{
	begin(takes_two_at_once);
	channel_words();
	r.order.item[0].line.serial.wait_dc1 = r.order.item[1].line.serial.wait_dc1 = false;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.channel[0].bytes, strlen(UP));
	assert_int_equal(r.outcome.channel[1].bytes, strlen(LO));
	assert_string_equal(heard,
	    "%\nCH1\nO4417(JOB 4417 REV C UPPER)\nN10G0X40.5\nM201\nM30\n%\n"
	    "%\nCH2\nO4417(JOB 4417 REV C LOWER)\nN10G0X42.5\nM201\nM30\n%\n");
	strcpy(r.order.item[1].line.serial.channel_word, "CH1");
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

#define BODY_UP "O4417(JOB 4417 REV C UPPER)\nN10G0X40.5\nM201\nM30\n"
#define CH1_UP "%\nCH1\n" BODY_UP "%\n"
#define CH2_LO "%\nCH2\n" BODY("LOWER") "%\n"

static void punches_with_words(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, CH1_UP);
	desk_hear_for(k, 300);
	punch(k, copy_of_lower);
	desk_hear_for(k, 500);
}

static void read_back_with_words(const char *lower)
{
	copy_of_lower = lower;
	begin(punches_with_words);
	read_backs();
	channel_words();
	rig_run(&r);
	desk_close(&d);
}

/* The block that tells the channel is no part of the program; with the word of another channel it
 * is no copy of this one's, although it may be equal. */
static void read_back_with_channel_words(void **state)
{
	static const char both[] = "%\nCH2\n" BODY("LOWER") "%\n%\nCH1\n" BODY_UP "%\n";

	read_back_with_words(CH2_LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.contents, 0);
	read_back_with_words("%\nCH2\n" OTHER "%\n%\nCH2\n" BODY("LOWER") "%\n");
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	content(1, 0, CARRY_ROLE_MORE, "O0001", OTHER);
	/* A control that does not say it is taken at its operator's word. */
	read_back_with_words(LO);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	read_back_with_words("%\nCH1\n" BODY("LOWER") "%\n");
	ended(CARRY_ERROR_CHANNEL, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.channel[1].compared, 0);
	assert_non_null(
	    strstr(r.outcome.text, "the control punched channel upper; lower was asked"));
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
	assert_string_equal(r.content[0].head.note, "the control punched channel upper");
	read_back_with_words(both);
	ended(CARRY_ERROR_CHANNEL, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_non_null(
	    strstr(r.outcome.text, "channels lower and upper in one stream; lower was asked"));
}

/* Of three channels the second is punched while the third is waited for: its word says whose it is.
 */
static void punches_the_second(struct desk *k)
{
	desk_accept(k);
	load(k);
	load(k);
	punch(k, CH2_LO);
	desk_hear_for(k, 300);
	load(k);
	punch(k, CH1_UP);
	desk_hear_for(k, 500);
	punch(k, "%\nCH3\n" BODY("THIRD") "%\n");
	desk_hear_for(k, 500);
}

static void a_copy_that_comes_by_itself(void **state)
{
	struct carry_item *third = &r.order.item[2];

	begin(punches_the_second);
	read_backs();
	channel_words();
	*third = r.order.item[1];
	strcpy(third->channel, "third");
	strcpy(third->line.serial.channel_word, "CH3");
	r.order.items = 3;
	rig_program(&r, 2, "%\n" BODY("THIRD") "%\n");
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	for (int i = 0; i < 3; i++)
		assert_int_equal(r.outcome.channel[i].compared, 1);
}

/* Nothing that another channel punched is stored as this one's. */
static void fetch_of_another_channel(void **state)
{
	r.order.items = 1;
	tape[0] = CH2_LO;
	tape[1] = NULL;
	r.order.act = CARRY_FETCH;
	begin(punches_tapes);
	channel_words();
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_CHANNEL);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_OLD);
	assert_non_null(
	    strstr(r.outcome.text, "the control punched channel lower; upper was asked"));
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_RAW);
	tape[0] = CH1_UP;
	begin(punches_tapes);
	channel_words();
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	content(0, 0, CARRY_ROLE_COPY, "", UP);
	assert_int_equal(r.outcome.channel[0].bytes, strlen(UP));
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(read_back_with_channel_words),
	    T(a_copy_that_comes_by_itself),
	    T(two_programs_that_say_their_channels),
	    T(fetch_of_another_channel),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
