/*
 * Goal: the words by which a control knows its channels are taken as they are written, and what
 * would leave a channel in doubt is told with file and line.
 */
#include <string.h>
#include "conf_case.h"

#define SHARED "[line]\nkind = serial\naddress = tcp://h:4001\n"
#define UPPER "[line upper]\nchannel_word = CH1\n"
#define LOWER "[line lower]\nchannel_word = CH2\n"

static void test_words(void **state)
{
	struct carry_order order;

	read_machine(state, SHARED, 0);
	assert_string_equal(machine.line[0].serial.channel_word, "");
	read_machine(state, SHARED UPPER LOWER, 0);
	assert_string_equal(machine.line[0].serial.channel_word, "CH1");
	assert_string_equal(machine.line[1].serial.channel_word, "CH2");
	conf_machine_words(&machine, &order);
	assert_string_equal(order.word[0].channel, "upper");
	assert_string_equal(order.word[1].word, "CH2");
	assert_string_equal(order.word[2].word, "");
	/* Over ports of their own each may have one, none, or the same. */
	read_machine(state, SHARED UPPER "[line lower]\naddress = tcp://h:4002\n", 0);
	read_machine(state, SHARED "channel_word = CH\n[line lower]\naddress = tcp://h:4002\n", 0);
}

static void test_what_leaves_doubt(void **state)
{
	read_machine(state, SHARED UPPER "[line lower]\nchannel_word = CH1\n", 1);
	expect("LATHE-1.conf:7: error: channels upper and lower are on one line and have the same "
	       "channel_word 'CH1'");
	read_machine(state, SHARED "channel_word = CH1\n", 1);
	expect("LATHE-1.conf:4: error: channels upper and lower are on one line and have the same");
	read_machine(state, SHARED UPPER, 1);
	expect("LATHE-1.conf:5: error: channels upper and lower are on one line, and channel lower "
	       "has no channel_word: give it one in [line lower]");
	read_machine(state, SHARED LOWER, 1);
	expect("LATHE-1.conf:5: error: channels upper and lower are on one line, and channel upper "
	       "has no channel_word: give it one in [line upper]");
}

static void test_what_is_no_word(void **state)
{
	read_machine(state, SHARED UPPER "[line lower]\nchannel_word = O4417\n", 1);
	expect("LATHE-1.conf:7: error: channel_word = 'O4417': it would be taken for a program "
	       "number");
	read_machine(state, SHARED UPPER "[line lower]\nchannel_word = 50%\n", 1);
	expect("LATHE-1.conf:7: error: channel_word = '50%': it holds a character");
	read_machine(state,
	    SHARED "code = eia\nframing = 8n2\n" UPPER "[line lower]\nchannel_word = ch2\n", 1);
	expect("LATHE-1.conf:9: error: channel_word = 'ch2': it holds a character that EIA code");
	read_machine(state,
	    SHARED UPPER "[line lower]\nchannel_word = 12345678901234567890123456789012345678901\n",
	    1);
	expect("at most 40 are allowed");
	read_machine(
	    state, "[line]\nkind = directory\nroot = /srv\nmarker = M\nchannel_word = CH1\n", 1);
	expect("'channel_word' belongs to a line of kind serial");
}

static int finish(void **state)
{
	conf_report_free(&report);
	return 0;
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, scratch_setup, scratch_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(test_words),
	    TEST(test_what_leaves_doubt),
	    TEST(test_what_is_no_word),
	};

	return cmocka_run_group_tests(tests, NULL, finish);
}
