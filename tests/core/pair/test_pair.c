/*
 * Goal: programs find their channels, what is told stands in its place with its weight, agreement
 * is never claimed for what could not be read, and the printed lines are those of a compiler.
 */
#include <stdlib.h>
#include "pair_help.h"

#define PROGRAM(body) "%\nO4417(REV C)\n" body "M30\n%\n"

static void any_order(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.LO", PROGRAM("M201\nG0X1\n"), 0}, {"J4417.UP", PROGRAM("M201\n"), 0}};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_help_find(&c, FINDING_POINT_MISSING)->channel, 1);
	assert_string_equal(pair_job(c.report), "J4417");
	assert_string_equal(pair_revision(c.report), "C");
	assert_int_equal(pair_weight(c.report), WEIGHT_WARN);
	assert_true(pair_may_release(c.report));
	pair_help_free(&c);
}

/* Programs that name no channel stand in the order in which they were given. */
static void unknown_channels_fill_up(void **state)
{
	struct checked c = {0};
	const struct source s[] = {{"A", PROGRAM("M201\n"), 0}, {"B", PROGRAM("M201\nG0X1\n"), 0}};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_help_seen(&c, FINDING_CHANNEL_UNKNOWN), 2);
	assert_int_equal(pair_help_find(&c, FINDING_POINT_MISSING)->channel, 1);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

static void both_for_one_channel(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.LO", PROGRAM("M201\n"), 0}, {"J4417.LOW", PROGRAM("M201\n"), 0}};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	pair_help_text(&c, FINDING_CHANNEL_DIFFERS, "both programs are for channel lower");
	assert_string_equal(pair_help_find(&c, FINDING_CHANNEL_DIFFERS)->also_file, "J4417.LO");
	pair_help_free(&c);
}

static void one_program_alone(void **state)
{
	struct checked c = {0};
	const struct source s[] = {{"J4417.LO", PROGRAM("M201\n"), 0}};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 1);
	pair_help_text(&c, FINDING_MATE_MISSING, "no program for channel upper");
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	assert_string_equal(pair_job(c.report), "J4417");
	assert_int_equal(pair_meetings(c.report), 0);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

/* Without any wait code, and with weight off for the mate, one program still never agrees. */
static void a_mate_that_nobody_asks_for(void **state)
{
	struct checked c = {0};
	const struct source s[] = {{"J4417.LO", PROGRAM(""), 0}};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "weights", "mate-missing", "off");
	pair_help_check(&c, s, 1);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	pair_help_free(&c);
	c.report = pair_check(&c.profile, NULL, 0);
	assert_non_null(c.report);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	pair_report_free(c.report);
	pair_report_free(NULL);
}

/* Weights tell how much a finding counts; that a channel waits for ever is no matter of weight. */
static void no_weight_changes_a_certain_disagreement(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("M201\nM202\n"), 0}, {"J4417.LO", PROGRAM("M201\n"), 0}};

	pair_help_profile(&c.profile);
	for (int id = 0; id < FINDING_COUNT; id++)
		c.profile.weight[id] = WEIGHT_NOTE;
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	assert_int_equal(pair_weight(c.report), WEIGHT_NOTE);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

static void three_channels(void **state)
{
	struct checked c = {0};
	const struct source s[] = {{"J4417.A", PROGRAM("M201\nM202\n"), 0},
	    {"J4417.B", PROGRAM("M201\nM202\n"), 0}, {"J4417.C", PROGRAM("M201\n"), 0}};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "channels", "a, b, c");
	pair_help_check(&c, s, 3);
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	pair_help_text(&c, FINDING_WAIT_MISSING,
	    "wait 2: a M202 (line 4), b M202 (line 4), c has ended: a and b stand for ever");
	pair_help_free(&c);
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	pair_help_text(&c, FINDING_MATE_MISSING, "no program for channel c");
	pair_help_free(&c);
}

struct repair {
	const char *upper, *lower, *remedy;
};

static void repairs_say_where(void **state)
{
	static const struct repair repair[] = {
	    {PROGRAM("M201\n"), PROGRAM(""), "add M201 to lower before line 3"},
	    {PROGRAM("M201\nM202\n"), PROGRAM("M201\nG0X1.\n"),
	        "add M202 to lower between line 3 and line 5"},
	    {PROGRAM("M201\nM202\nM203\n"), PROGRAM("M201\nM210\nM203\n"),
	        "write M202 in place of M210 in line 4 of lower, if upper is right"},
	    {PROGRAM("M201\nM201\nM202\n"), PROGRAM("M201\nM202\n"),
	        "remove M201 in line 4 of upper"},
	    {PROGRAM("M201\nM202\n"), PROGRAM("M202\nM201\n"),
	        "put M202 and M201 of lower (line 3) into the order of upper (line 3)"},
	    {PROGRAM("/M201\n"), PROGRAM("M201\n"), "give M201 the same slash in both programs"},
	    {"%\nO4417(REV C)\nM30\nM201\n%\n", PROGRAM("M201\n"),
	        "move M201 in line 4 of upper before the program end"},
	};

	for (size_t i = 0; i < sizeof(repair) / sizeof(*repair); i++) {
		struct checked c = {0};
		bool told = false;

		pair_help_two(&c, repair[i].upper, repair[i].lower);
		assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
		for (size_t k = 0; k < pair_findings(c.report)->n; k++)
			told |=
			    strstr(pair_findings(c.report)->v[k].remedy, repair[i].remedy) != NULL;
		if (!told) {
			struct text t = {0};

			pair_print_findings(pair_findings(c.report), &t);
			fail_msg("%s\n%s", repair[i].remedy, t.s);
		}
		pair_help_free(&c);
	}
}

/* Agreement is not claimed where a word could not be read, unless the profile vouches for it. */
static void doubt_is_not_agreement(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", PROGRAM("M201\n12G0\n"), 0}, {"J4417.LO", PROGRAM("M201\n"), 0}};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	pair_help_free(&c);
	pair_help_set(&c.profile, "weights", "word-bad", "warn");
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_true(pair_may_release(c.report));
	pair_help_free(&c);
}

static void stops_between_the_same_waits(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, PROGRAM("M01\nM201\nM01\n"), PROGRAM("M01\nM201\n"));
	assert_int_equal(pair_help_seen(&c, FINDING_STOP_ONE_CHANNEL), 1);
	assert_int_equal(pair_help_find(&c, FINDING_STOP_ONE_CHANNEL)->line, 5);
	pair_help_free(&c);
}

static void lines_of_a_compiler(void **state)
{
	struct checked c = {0};
	struct text t = {0};

	pair_help_two(&c, PROGRAM("M201\nM202\nG0X1\n"), PROGRAM("M201\n"));
	pair_print_findings(pair_findings(c.report), &t);
	assert_string_equal(t.s,
	    "J4417.UP:5:3: warn: X1 without a decimal point; write X1. if that is meant "
	    "[point-missing]\n"
	    "J4417.LO:4:1: refuse: wait 2: upper M202 (line 4), lower has ended: upper stands for "
	    "ever [wait-missing]\n"
	    "    J4417.UP:4:1: the other place\n"
	    "    likeliest repair: add M202 to lower between line 3 and line 4\n");
	text_free(&t);
	pair_print_summary(c.report, &t);
	assert_string_equal(t.s,
	    "disagree at wait 2: upper M202 (line 4), lower has ended: upper stands for ever; "
	    "likeliest repair: add M202 to lower between line 3 and line 4\n"
	    "1 refuse, 1 warn, 0 note: refused\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	text_free(&t);
	pair_help_free(&c);
}

static void summary_of_a_good_pair(void **state)
{
	struct checked c = {0};
	struct text t = {0};

	pair_help_two(&c, PROGRAM("M201\n"), PROGRAM("M201\n"));
	pair_print_summary(c.report, &t);
	assert_string_equal(t.s,
	    "agree: 1 meeting, then the programs end\n"
	    "0 refuse, 0 warn, 0 note: may be released\n"
	    "Agreement of wait codes does not prove that tools cannot meet.\n");
	text_free(&t);
	pair_help_free(&c);
}

/* No byte of a name or a program drives a terminal. */
static void prints_are_tame(void **state)
{
	struct checked c = {0};
	struct text t = {0};
	const struct source s[] = {
	    {"\x1b[2J.UP", PROGRAM("G0\x1b[2JX1.\n"), 0}, {"J\n\x9b.LO", PROGRAM(""), 0}};
	char *ladder;

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	pair_print_findings(pair_findings(c.report), &t);
	assert_null(strchr(t.s, '\x1b'));
	assert_null(strchr(t.s, '\x9b'));
	text_free(&t);
	ladder = pair_help_ladder(&c, 80, false);
	assert_null(strchr(ladder, '\x1b'));
	free(ladder);
	pair_help_free(&c);
}

static void names_of_verdicts(void **state)
{
	assert_string_equal(pair_verdict_name(VERDICT_AGREE), "agree");
	assert_string_equal(pair_verdict_name(VERDICT_DISAGREE), "disagree");
	assert_string_equal(pair_verdict_name(VERDICT_CANNOT_TELL), "cannot tell");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(any_order),
	    cmocka_unit_test(unknown_channels_fill_up),
	    cmocka_unit_test(both_for_one_channel),
	    cmocka_unit_test(one_program_alone),
	    cmocka_unit_test(a_mate_that_nobody_asks_for),
	    cmocka_unit_test(no_weight_changes_a_certain_disagreement),
	    cmocka_unit_test(three_channels),
	    cmocka_unit_test(repairs_say_where),
	    cmocka_unit_test(doubt_is_not_agreement),
	    cmocka_unit_test(stops_between_the_same_waits),
	    cmocka_unit_test(lines_of_a_compiler),
	    cmocka_unit_test(summary_of_a_good_pair),
	    cmocka_unit_test(prints_are_tame),
	    cmocka_unit_test(names_of_verdicts),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
