/*
 * Goal: straight channels agree exactly when their wait codes are the same in the same order, and
 * where they do not, the meeting that fails is the right one.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "channels.h"

/*
 * Hoare, Communicating Sequential Processes (1985), 2.2, example X2: the foolish customer and the
 * vending machine stop after one common event. As wait codes: in1p = 201, large = 202, small = 203.
 */
static void foolish_customer(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "M201\nM202\nM30\n", "M201\nM203\nM30\n"), VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/201 202/203!");
	assert_int_equal(c.result.meetings, 1);
	assert_int_equal(c.result.rung[1].channel[0].step, 1);
	assert_int_equal(c.result.rung[1].channel[0].code->at.line, 2);
	channels_end(&c);
}

/* The same, example X1: the greedy customer and the machine, coin and choc in turn for ever: no
 * deadlock. */
static void greedy_customer(void **state)
{
	struct channels c;
	const char *text = "O1\nM98 P2 L5000\nM30\nO2\nM210\nM211\nM99\n";

	assert_int_equal(channels_two(&c, text, text), VERDICT_AGREE);
	assert_int_equal(c.result.meetings, 10000);
	channels_end(&c);
}

/*
 * A dual-process lathe control's manual, example of its chapter on waiting: the code stands in N5
 * of one process, before N6 M30, and in N2 of the other, before threading: sequences [100] and
 * [100].
 */
static void lathe_manual(void **state)
{
	struct channels c;

	channels_begin(&c);
	c.profile.wait[0] = (struct profile_range){100, 110};
	channels_add(&c, "N1 G0 X50.\nN2 G1 Z-5. F.2\nN3 X55.\nN4 G0 Z5.\nN5 M100\nN6 M30\n");
	channels_add(&c,
	    "N1 G0 X30.\nN2 M100\nN3 G92 X29. Z-20. F1.5\nN4 X28.5\nN5 X28.\nN6 G0 X40.\n"
	    "N7 M30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_string_equal(channels_rungs(&c), "100/100 ./.");
	assert_int_equal(c.result.rung[0].channel[0].code->at.sequence, 5);
	assert_int_equal(c.result.rung[0].channel[1].code->at.sequence, 2);
	assert_int_equal(c.findings.n, 0);
	channels_end(&c);
}

/* Common practice: one code missing is a deadlock at the next meeting, not "counts differ". */
static void missing(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "M201\nM202\nM203\nM30\n", "M201\nM203\nM30\n"), VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/201 202/203!");
	channels_end(&c);
}

/* Common practice: the same set of codes in another order stops at the first. */
static void swapped(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "M201\nM202\nM30\n", "M202\nM201\nM30\n"), VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/202!");
	assert_int_equal(c.result.meetings, 0);
	channels_end(&c);
}

/* A channel that has ended never comes: the other waits for ever. */
static void ended(void **state)
{
	struct channels c;

	assert_int_equal(channels_two(&c, "M201\nM202\nM30\n", "M201\nM30\n"), VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/201 202/.!");
	channels_end(&c);
	assert_int_equal(channels_two(&c, "M30\n", "M201\nM30\n"), VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "./201!");
	channels_end(&c);
}

static void none_at_all(void **state)
{
	struct channels c;

	assert_int_equal(channels_two(&c, "G0 X1.\nM01\nM00\nM30\n", "M02\n"), VERDICT_AGREE);
	assert_string_equal(channels_rungs(&c), "./.");
	channels_end(&c);
}

/* Only codes of the machine's range wait; M203 and M0203 and M203.0 are one code (NISTIR
 * 6556, 3.3.2.1). */
static void range_and_form(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "M203\nM150\nM300\nM30\n", "M0203.0 (MEET)\nM30\n"), VERDICT_AGREE);
	assert_string_equal(channels_rungs(&c), "203/203 ./.");
	channels_end(&c);
}

/* Common practice: a wait code of three channels needs all three; two that differ stand, whatever
 * the third does. */
static void three_channels(void **state)
{
	struct channels c;

	channels_begin(&c);
	c.profile.channels = 3;
	channels_add(&c, "M201\nM202\nM30\n");
	channels_add(&c, "M201\nM202\nM30\n");
	channels_add(&c, "M201\nM202\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	channels_end(&c);

	channels_begin(&c);
	c.profile.channels = 3;
	channels_add(&c, "M201\nM204\nM30\n");
	channels_add(&c, "M201\nM202\nM30\n");
	channels_add(&c, "M201\nM202\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_int_equal(c.result.channel_a, 0);
	assert_int_equal(c.result.channel_b, 1);
	channels_end(&c);

	channels_begin(&c);
	c.profile.channels = 3;
	channels_add(&c, "M201\nM30\n");
	channels_add(&c, "M202\nM30\n");
	channels_add(&c, "GOTO #1\nM201\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/202/?!");
	channels_end(&c);
}

/* A long run keeps its first and its last rungs and says how many it left out; ten million steps
 * are followed. */
static void long_run(void **state)
{
	struct channels c;
	const char *text =
	    "O1\nM98 P2 L1000\nM98 P4\nM30\nO2\nM98 P3 L1000\nM99\nO3\nM98 P4 L4\nM99\n"
	    "O4\nM201\nM99\n";

	channels_begin(&c);
	channels_add(&c, text);
	channels_add(&c, "O1\nM98 P2 L2000\nM202\nM30\nO2\nM98 P3 L2000\nM99\nO3\nM201\nM99\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_int_equal(c.result.meetings, 4000000);
	assert_int_equal(c.result.rungs, 241);
	assert_int_equal(c.result.rung[199].repeat, 4000000 - 240);
	assert_int_equal(c.result.rung[239].channel[0].step, 3999999);
	assert_false(c.result.rung[240].meets);
	assert_int_equal(c.result.rung[240].channel[1].code->code, 202);
	channels_end(&c);
}

/* Beyond run_max nothing is claimed; a difference before it is still found. */
static void run_max(void **state)
{
	struct channels c;
	const char *text = "O1\nM98 P2 L9999\nM30\nO2\nM98 P3 L9999\nM99\nO3\nM201\nM99\n";

	channels_begin(&c);
	c.profile.run_max = 10000;
	channels_add(&c, text);
	channels_add(&c, text);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	assert_int_equal(c.result.repair, FINDING_RUN_LONG);
	assert_int_equal(c.result.place_a.line, 9);
	channels_end(&c);

	channels_begin(&c);
	c.profile.run_max = 10000;
	channels_add(&c, text);
	channels_add(&c, "M201\nM202\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	channels_end(&c);
}

/* Exactly run_max steps and then the end is still followed. */
static void run_max_border(void **state)
{
	struct channels c;

	channels_begin(&c);
	c.profile.run_max = 3;
	channels_add(&c, "M201\nM202\nM203\nM30\n");
	channels_add(&c, "M201\nM202\nM203\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(foolish_customer),
	    cmocka_unit_test(greedy_customer),
	    cmocka_unit_test(lathe_manual),
	    cmocka_unit_test(missing),
	    cmocka_unit_test(swapped),
	    cmocka_unit_test(ended),
	    cmocka_unit_test(none_at_all),
	    cmocka_unit_test(range_and_form),
	    cmocka_unit_test(three_channels),
	    cmocka_unit_test(long_run),
	    cmocka_unit_test(run_max),
	    cmocka_unit_test(run_max_border),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
