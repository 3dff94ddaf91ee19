/*
 * Goal: every setting of the block-skip switches is examined, the one with the fewest switches on
 * is shown when one fails, and nothing is claimed when there are too many (NISTIR 6556, 2.2.2: the
 * switch is read at run time).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

/* Common practice: works for weeks, hangs the day the switch is turned on. */
static void one_channel_only(void **state)
{
	struct channels c;

	channels_begin(&c);
	c.profile.wait[0] = (struct profile_range){300, 399};
	channels_add(&c, "M301\n/M302\nM303\nM30\n");
	channels_add(&c, "M301\nM302\nM303\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "301/301 303/302!");
	assert_int_equal(c.result.run[0].on, 1 << 1);
	assert_int_equal(c.result.run[1].on, 1 << 1);
	assert_int_equal(c.result.settings, 2);
	assert_int_equal(c.result.repair, FINDING_WAIT_SKIPPED);
	assert_int_equal(c.result.channel_a, 0);
	assert_int_equal(c.result.place_a.line, 2);
	assert_int_equal(c.result.channel_b, 1);
	assert_int_equal(c.result.place_b.line, 2);
	channels_end(&c);
}

/* The same slash in both channels agrees in both settings of a common switch... */
static void both_channels(void **state)
{
	struct channels c;
	const char *text = "M201\n/M202\nM203\nM30\n";

	assert_int_equal(channels_two(&c, text, text), VERDICT_AGREE);
	assert_int_equal(c.result.settings, 2);
	assert_int_equal(c.result.meetings, 3);
	assert_int_equal(c.result.fewest, 2);
	channels_end(&c);
}

/* ... but not when each channel has a switch of its own. */
static void separate_switches(void **state)
{
	struct channels c;
	const char *text = "M201\n/M202\nM203\nM30\n";

	channels_begin(&c);
	c.profile.skip_separate = true;
	channels_add(&c, text);
	channels_add(&c, text);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	assert_int_equal(c.result.repair, FINDING_WAIT_SKIPPED);
	assert_int_equal(c.result.run[0].on + c.result.run[1].on, 1 << 1);
	channels_end(&c);
}

/* /2 and /3 are switches of their own; the fewest that fail together are shown. */
static void levels(void **state)
{
	struct channels c;

	/* 2 and 3 must both be on before anything is wrong */
	assert_int_equal(
	    channels_two(&c, "/2 M99 P1\nM201\nM30\n", "M201\nM30\n"), VERDICT_CANNOT_TELL);
	channels_end(&c);
	assert_int_equal(
	    channels_two(&c, "/2 M201\n/3 M202\nM203\nM30\n", "/2 M201\n/3 M202\nM203\nM30\n"),
	    VERDICT_AGREE);
	assert_int_equal(c.result.settings, 4);
	assert_int_equal(wait_flow_skips(c.flow[0]), 1 << 2 | 1 << 3);
	channels_end(&c);
	assert_int_equal(
	    channels_two(&c, "/2 M201\n/3 M202\nM203\nM30\n", "/2 M201\n/4 M202\nM203\nM30\n"),
	    VERDICT_DISAGREE);
	assert_int_equal(c.result.run[0].on, 1 << 3);
	channels_end(&c);
}

/* / and /1 are the same switch. */
static void level_one(void **state)
{
	struct channels c;

	assert_int_equal(channels_two(&c, "/M201\nM30\n", "/1 M201\nM30\n"), VERDICT_AGREE);
	assert_int_equal(c.result.settings, 2);
	channels_end(&c);
}

/* A slash before a block that has nothing to do with the flow is no switch to examine. */
static void motion_only(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "/G0 X1.\nM201\nM30\n", "M201\n/5 M8\nM30\n"), VERDICT_AGREE);
	assert_int_equal(c.result.settings, 1);
	assert_int_equal(wait_flow_skips(c.flow[0]), 0);
	channels_end(&c);
}

/* A call in a skipped block takes its wait codes with it; so does a skipped end bring more of them.
 */
static void calls_and_ends(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "O1\n/M98 P2\nM203\nM30\nO2\nM201\nM99\n", "M201\nM203\nM30\n"),
	    VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "203/201!");
	assert_int_equal(c.result.repair, FINDING_WAIT_SKIPPED);
	assert_int_equal(c.result.place_a.line, 2);
	channels_end(&c);
	assert_int_equal(
	    channels_two(&c, "M201\n/M30\nM202\nM30\n", "M201\nM30\n"), VERDICT_DISAGREE);
	assert_string_equal(channels_rungs(&c), "201/201 202/.!");
	assert_int_equal(c.result.repair, FINDING_WAIT_SKIPPED);
	assert_int_equal(c.result.place_a.line, 2);
	channels_end(&c);
}

/* A disagreement in any setting wins over a setting that could not be followed. */
static void disagreement_wins(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "M201\n/GOTO #1\nM202\nM30\n", "M201\nM203\nM30\n"), VERDICT_DISAGREE);
	assert_int_equal(c.result.run[0].on, 1 << 1);
	assert_string_equal(channels_rungs(&c), "201/201 202/203!");
	channels_end(&c);
}

/* All nine levels of a common switch are examined: 512 settings. */
static void nine_levels(void **state)
{
	struct channels c;
	const char *text =
	    "/M201\n/2M202\n/3M203\n/4M204\n/5M205\n/6M206\n/7M207\n/8M208\n/9M209\nM30\n";

	assert_int_equal(channels_two(&c, text, text), VERDICT_AGREE);
	assert_int_equal(c.result.settings, 512);
	assert_int_equal(c.result.meetings, 9);
	assert_int_equal(c.result.fewest, 0);
	channels_end(&c);
}

/* Nine ends in a row, each behind a switch. */
static void ends(char *text, size_t size)
{
	size_t n = (size_t)snprintf(text, size, "M201\n");

	for (unsigned i = 1; i <= 9; i++)
		n += (size_t)snprintf(text + n, size - n, "/%u M30\n", i);
	snprintf(text + n, size - n, "M30\n");
}

/* Eighteen switches of two channels are examined in all their settings. */
static void eighteen(void **state)
{
	struct channels c;
	char text[256];

	ends(text, sizeof text);
	channels_begin(&c);
	c.profile.skip_separate = true;
	channels_add(&c, text);
	channels_add(&c, text);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_int_equal(c.result.settings, 1 << 18);
	channels_end(&c);
}

/* Twenty-seven are more than that: with no disagreement among those examined, it cannot be told. */
static void too_many(void **state)
{
	struct channels c;
	char text[512] = "O1\n";
	size_t n = 3;

	/* a disagreement with all switches off is found all the same */
	for (unsigned i = 1; i <= 9; i++)
		n += (size_t)snprintf(text + n, sizeof text - n, "/%u M98 P2\n", i);
	snprintf(text + n, sizeof text - n, "M30\nO2\n/1 M201\nM99\n");
	channels_begin(&c);
	c.profile.channels = 3;
	c.profile.skip_separate = true;
	channels_add(&c, text);
	channels_add(&c, "M30\n");
	channels_add(&c, "M30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_DISAGREE);
	channels_end(&c);

	ends(text, sizeof text);
	channels_begin(&c);
	c.profile.channels = 3;
	c.profile.skip_separate = true;
	for (int i = 0; i < 3; i++)
		channels_add(&c, text);
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	assert_int_equal(c.result.repair, FINDING_SKIP_MANY);
	assert_int_equal(c.result.settings, WAIT_SETTINGS_MAX);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(one_channel_only),
	    cmocka_unit_test(both_channels),
	    cmocka_unit_test(separate_switches),
	    cmocka_unit_test(levels),
	    cmocka_unit_test(level_one),
	    cmocka_unit_test(motion_only),
	    cmocka_unit_test(calls_and_ends),
	    cmocka_unit_test(disagreement_wins),
	    cmocka_unit_test(nine_levels),
	    cmocka_unit_test(eighteen),
	    cmocka_unit_test(too_many),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
