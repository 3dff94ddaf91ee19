/*
 * Goal: every finding that the check of a pair can give is given for the smallest input that has
 * it, and is not given for the same input without it. The list of findings is walked, so that a new
 * one without its two sides fails here.
 */
#include <stdlib.h>
#include "pair_help.h"

#define PROGRAM(body) "%\nO4417(REV C)\n" body "M30\n%\n"
#define GOOD PROGRAM("G0X40.\nM201\n")
#define GOOD_LOWER PROGRAM("G0X41.\nM201\n")

/* Nine switches that matter to the flow, and change nothing. */

struct setting {
	const char *section, *key, *value;
};

struct side {
	const char *upper, *lower;           /* NULL: GOOD, GOOD_LOWER; "-": no such program */
	const char *upper_file, *lower_file; /* NULL: J4417.UP, J4417.LO */
	size_t upper_bytes;                  /* where the text holds a NUL */
};

struct row {
	enum finding_id id;
	struct side with, without;
	struct setting setting[3]; /* the last for a weight */
};

/* Even parity (ISO 840): % O4417 G0X40. M30 %, line feeds. */
static const char parity[] = "\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x47\x30\xD8\xB4\x30\x2E\x0A\x4D\x33"
                             "\x30\x0A\xA5\x0A";

static const char nul_inside[] = "%\nO4417(REV C)\nG0X4\0"
                                 "0.\nM201\nM30\n%\n";

#define REPEATS(n) "%\nO4417(REV C)\nM98P1L" n "\nM30\nO1\nM201\nM99\n%\n"

static const struct row rows[] = {
    {FINDING_MATE_MISSING, {.lower = "-"}, {0}, {{0}}},
    {FINDING_JOB_UNKNOWN, {.upper_file = "J4417"}, {0}, {{0}}},
    {FINDING_JOB_DIFFERS, {.upper_file = "J4418.UP"}, {0}, {{0}}},
    {FINDING_REVISION_UNKNOWN, {.upper = "%\nO4417\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_REVISION_DIFFERS, {.upper = "%\nO4417(REV D)\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_CHANNEL_UNKNOWN, {.upper_file = "J4417.MID"}, {0}, {{0}}},
    {FINDING_CHANNEL_DIFFERS, {.upper_file = "J4417.LOW"}, {0}, {{0}}},
    {FINDING_CHANNEL_SAME, {.lower = GOOD}, {0}, {{0}}},
    {FINDING_HEADER_UNREAD,
        {.upper = "%\nO4417(REV C D)\nM201\nM30\n%\n", .upper_file = "J4417-C.UP"},
        {.upper = "%\nO4417(BUSH)\nM201\nM30\n%\n", .upper_file = "J4417-C.UP"},
        {{"programs", "names", "{job}-{rev}.{channel}"}}},
    {FINDING_NUMBER_MISSING, {.upper = "%\n(REV C)\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_NUMBER_DOUBLED, {.upper = "%\nO4417(REV C)\nM201\nM30\nO1\nM99\nO1\nM99\n%\n"},
        {.upper = "%\nO4417(REV C)\nM201\nM30\nO1\nM99\nO2\nM99\n%\n"}, {{0}}},
    {FINDING_NUMBER_RANGE, {.upper = "%\nO14417(REV C)\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_NUMBER_DIFFERS, {.upper = "%\nO4471(REV C)\nM201\nM30\n%\n"}, {0},
        {{"programs", "number_from_job", "yes"}}},
    {FINDING_NUMBER_MATE, {.upper = "%\nO4471(REV C)\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_NUMBER_FORM, {.upper = "%\n:4417(REV C)\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_EMPTY, {.upper = "%\n(REV C)\n%\n"}, {0}, {{0}}},
    {FINDING_PERCENT_MISSING, {.upper = "O4417(REV C)\nM201\nM30\n"}, {0}, {{0}}},
    {FINDING_PERCENT_MIDDLE, {.upper = "%\nO4417(REV C)\nM201\n%\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_CUT_OFF, {.upper = "%\nO4417(REV C)\nM201\nG1 Z-1"}, {0}, {{0}}},
    {FINDING_END_MISSING, {.upper = "%\nO4417(REV C)\nM201\n%\n"}, {0}, {{0}}},
    {FINDING_END_DIFFERS, {.upper = "%\nO4417(REV C)\nG0X40.\nM201\nM99\n%\n"},
        {.upper = "%\nO4417(REV C)\nG0X40.\nM201\nM99\n%\n",
            .lower = "%\nO4417(REV C)\nG0X41.\nM201\nM99\n%\n"},
        {{"limits", "end_m99", "yes"}}},
    {FINDING_TEXT_AFTER_END, {.upper = "%\nO4417(REV C)\nM201\nM30\nG0X1.\n%\n"},
        {.upper = "%\nO4417(REV C)\nM201\nM30\nO8000\nG0X1.\nM99\n%\n"}, {{0}}},
    {FINDING_LINE_ENDS_DOUBLED, {.upper = "%\n\nO4417(REV C)\n\nM201\n\nM30\n\n%\n\n"},
        {.upper = "%\n\nO4417(REV C)\nM201\n\nM30\n%\n"}, {{0}}},
    {FINDING_LINE_ENDS_MIXED, {.upper = "%\r\nO4417(REV C)\nM201\nM30\n%\n"}, {0}, {{0}}},
    {FINDING_FRAMING_7E, {.upper = parity}, {0}, {{0}}},
    {FINDING_SIZE, {.upper = PROGRAM("(LONGER)\nG0X40.\nM201\n")}, {0},
        {{"limits", "size_max", "40"}}},
    {FINDING_BYTE_ORDER_MARK, {.upper = "\xEF\xBB\xBF" GOOD}, {0}, {{0}}},
    {FINDING_CHARACTER, {.upper = PROGRAM("G0X40.\xC2\xA0\nM201\n")}, {0}, {{0}}},
    {FINDING_CHARACTER_COMMENT, {.upper = PROGRAM("(30\xC2\xB0)\nM201\n")}, {0}, {{0}}},
    {FINDING_LOWER_CASE, {.upper = PROGRAM("g0X40.\nM201\n")}, {0}, {{0}}},
    {FINDING_TAB, {.upper = PROGRAM("G0\tX40.\nM201\n")}, {0}, {{0}}},
    {FINDING_NUL_INSIDE, {.upper = nul_inside, .upper_bytes = sizeof(nul_inside) - 1}, {0}, {{0}}},
    {FINDING_COMMENT_NESTED, {.upper = PROGRAM("(A (B)\nM201\n")}, {0}, {{0}}},
    {FINDING_COMMENT_OPEN, {.upper = PROGRAM("(A\nM201\n")}, {0}, {{0}}},
    {FINDING_NUMBER_BAD, {.upper = PROGRAM("G0X1.2.3\nM201\n")}, {0}, {{0}}},
    {FINDING_NUMBER_GAP, {.upper = PROGRAM("G0X40 41.\nM201\n")},
        {.upper = PROGRAM("G 0 X 40. Z - 1.\nM201\n")}, {{0}}},
    {FINDING_WORD_BAD, {.upper = PROGRAM("12G0\nM201\n")}, {0}, {{0}}},
    {FINDING_WORD_DOUBLED, {.upper = PROGRAM("G0X40.X41.\nM201\n")},
        {.upper = PROGRAM("G0G40X40.,C1.C90.\nM201\n")}, {{0}}},
    {FINDING_POINT_MISSING, {.upper = PROGRAM("G0X40\nM201\n")}, {0}, {{0}}},
    {FINDING_BLOCK_LONG, {.upper = PROGRAM("(A COMMENT OF MORE THAN 20)\nM201\n")}, {0},
        {{"limits", "block_max", "20"}}},
    {FINDING_SEQUENCE, {.upper = PROGRAM("N100000M201\n")}, {.upper = PROGRAM("N99999M201\n")},
        {{0}}},
    {FINDING_WORD_FORBIDDEN, {.lower = PROGRAM("M6\nM201\n")}, {.upper = PROGRAM("M6\nM201\n")},
        {{"channel lower", "forbid", "M06"}}},
    {FINDING_STOP_ONE_CHANNEL, {.upper = PROGRAM("M01\nM201\n")},
        {.upper = PROGRAM("M01\nM201\n"), .lower = PROGRAM("M1\nM201\n")}, {{0}}},
    {FINDING_SUB_MISSING, {.upper = PROGRAM("M98P8000\nM201\n")},
        {.upper = "%\nO4417(REV C)\nM98P8000\nM201\nM30\nO8000\nM99\n%\n"}, {{0}}},
    {FINDING_SUB_RECURSIVE,
        {.upper = "%\nO4417(REV C)\nM98P8000\nM201\nM30\nO8000\nM98P8000\nM99\n%\n"},
        {.upper = "%\nO4417(REV C)\nM98P8000\nM201\nM30\nO8000\nM99\n%\n"}, {{0}}},
    {FINDING_CALL_DEEP,
        {.upper = "%\nO4417(REV C)\nM98P1\nM201\nM30\nO1\nM98P2\nM99\nO2\nM99\n%\n"},
        {.upper = "%\nO4417(REV C)\nM98P1\nM98P2\nM201\nM30\nO1\nM99\nO2\nM99\n%\n"},
        {{"limits", "call_depth", "1"}}},
    {FINDING_FLOW_UNFOLLOWED, {.upper = PROGRAM("M#100\nM201\n")},
        {.upper = PROGRAM("IF[#100EQ1]GOTO10\nG0X2.\nN10\nM201\n")}, {{0}}},
    {FINDING_RUN_LONG,
        {.upper = "%\nO4417(REV C)\nM98P1L900\nM30\nO1\nM201\nM99\n%\n",
            .lower = "%\nO4417(REV C)\nM98P1L900\nM30\nO1\nM201\nM99\n%\n"},
        {0}, {{"limits", "run_max", "100"}}},
    {FINDING_JUMP_MISSING, {.upper = PROGRAM("IF[#100EQ1]GOTO77\nG0X1.\nM201\n")},
        {.upper = PROGRAM("IF[#100EQ1]GOTO77\nG0X1.\nN77\nM201\n")}, {{0}}},
    {FINDING_LOOP_ENDLESS, {.upper = PROGRAM("#1=0\nWHILE[#1LT2]DO1\nG0X1.\nEND1\nM201\n")},
        {.upper = PROGRAM("#1=0\nWHILE[#1LT2]DO1\n#1=#1+1\nEND1\nM201\n")}, {{0}}},
    {FINDING_WAIT_NONE, {.upper = PROGRAM("G0X1.\n"), .lower = PROGRAM("G0X2.\n")},
        {.upper = PROGRAM("G0X1.\n"), .lower = PROGRAM("M201\n")}, {{0}}},
    {FINDING_WAIT_MISSING, {.lower = PROGRAM("G0X40.\n")}, {0}, {{0}}},
    {FINDING_WAIT_DOUBLED, {.lower = PROGRAM("M201\nM201\n")}, {0}, {{0}}},
    {FINDING_WAIT_SWAPPED, {.upper = PROGRAM("M201\nM202\n"), .lower = PROGRAM("M202\nM201\n")},
        {.upper = PROGRAM("M201\nM202\n"), .lower = PROGRAM("M201\nM202\n")}, {{0}}},
    {FINDING_WAIT_DIFFERS, {.lower = PROGRAM("M210\n")}, {0}, {{0}}},
    {FINDING_WAIT_SKIPPED, {.lower = PROGRAM("/M201\n")}, {0}, {{0}}},
    {FINDING_WAIT_BRANCH, {.upper = PROGRAM("IF[#100EQ1]GOTO10\nM201\nN10\nG0X1.\n")},
        {.upper = PROGRAM("IF[#100EQ1]GOTO10\nG0X1.\nN10\nM201\n")}, {{0}}},
    {FINDING_WAIT_REPEATS, {.upper = REPEATS("3"), .lower = REPEATS("2")},
        {.upper = REPEATS("3"), .lower = REPEATS("3")}, {{0}}},
    {FINDING_WAIT_PARTNERS, {.upper = PROGRAM("M201P12\n"), .lower = PROGRAM("M201P123\n")},
        {.upper = PROGRAM("M201P12\n"), .lower = PROGRAM("M201P21\n")},
        {{"wait", "partners", "P digits"}, {"programs", "channels", "upper lower third"}}},
    {FINDING_PARTNERS_BAD, {.upper = PROGRAM("M201P19\n")}, {.upper = PROGRAM("M201P12\n")},
        {{"wait", "partners", "P digits"}}},
    {FINDING_SIGNAL_LEFT, {.upper = PROGRAM("M301\nM201\n")},
        {.upper = PROGRAM("M301\nM201\n"), .lower = PROGRAM("M401\nM201\n")},
        {{"wait", "send", "M301"}, {"wait", "receive", "M401"}}},
    {FINDING_WAIT_RANGE, {.upper = PROGRAM("M201\nM301\n")},
        {.upper = PROGRAM("G0X1.M301\nM3\nM1201\nM310\nM201\n")},
        {{"codes", "M310", "clamping: collet open"}}},
    {FINDING_WAIT_IN_SKIPPED, {.upper = PROGRAM("/M201\n"), .lower = PROGRAM("/M201\n")}, {0},
        {{0}}},
    {FINDING_WAIT_AFTER_END, {.upper = "%\nO4417(REV C)\nM30\nM201\n%\n"}, {0}, {{0}}},
    {FINDING_WAIT_LAST_BLOCK, {.upper = "%\nO4417(REV C)\nM201M30\n%\n"}, {0}, {{0}}},
    {FINDING_WAIT_NOT_ALONE, {.upper = PROGRAM("G0X1.M201\n")},
        {.upper = PROGRAM("N10 M201 (MEET)\n")}, {{0}}},
    {FINDING_WAIT_COMPENSATION, {.upper = PROGRAM("G42X1.\nM201\nG40\n")},
        {.upper = PROGRAM("G42X1.\nG40X2.\nM201\n")}, {{0}}},
    {FINDING_WAIT_UNCERTAIN, {.upper = PROGRAM("(A (B) M201\n")},
        {.upper = PROGRAM("(A (B)\nM201\n")}, {{0}}},
};

/* What the vault must say, because it knows other jobs and earlier releases. */
static bool of_the_vault(int id)
{
	return id == FINDING_REVISION_REUSED || id == FINDING_NUMBER_CLASH;
}

/* Two channels have no more settings than are looked at; three may: test_skip.c. */
static bool of_three_channels(int id)
{
	return id == FINDING_SKIP_MANY;
}

/* Only a file that holds several channels can have it: test_split.c. */
static bool of_a_split_file(int id)
{
	return id == FINDING_PART_UNKNOWN;
}

static uint32_t seen(const struct row *row, const struct side *side)
{
	struct checked c = {0};
	struct source s[2];
	size_t n = 0;
	uint32_t count;

	pair_help_profile(&c.profile);
	for (int i = 0; i < 3; i++)
		if (row->setting[i].section)
			pair_help_set(&c.profile, row->setting[i].section, row->setting[i].key,
			    row->setting[i].value);
	s[n++] = (struct source){side->upper_file ? side->upper_file : "J4417.UP",
	    side->upper ? side->upper : GOOD, side->upper_bytes};
	if (!side->lower || strcmp(side->lower, "-") != 0)
		s[n++] = (struct source){side->lower_file ? side->lower_file : "J4417.LO",
		    side->lower ? side->lower : GOOD_LOWER, 0};
	pair_help_check(&c, s, n);
	count = pair_help_seen(&c, row->id);
	pair_help_free(&c);
	return count;
}

static void each_rule_has_two_sides(void **state)
{
	int failed = 0;

	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		if (seen(&rows[i], &rows[i].with) == 0) {
			print_error("%s is not found\n", finding_name(rows[i].id));
			failed++;
		}
		if (seen(&rows[i], &rows[i].without) > 0) {
			print_error("%s is found without cause\n", finding_name(rows[i].id));
			failed++;
		}
	}
	assert_int_equal(failed, 0);
}

static void each_finding_has_a_row(void **state)
{
	for (int id = 0; id < FINDING_COUNT; id++) {
		bool has = of_the_vault(id) || of_a_split_file(id) || of_three_channels(id);

		for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++)
			has |= rows[i].id == (enum finding_id)id;
		if (!has)
			fail_msg("%s has no test", finding_name((enum finding_id)id));
	}
}

/* A pair without fault has no finding at all. */
static void a_good_pair_is_silent(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, GOOD, GOOD_LOWER);
	assert_int_equal(pair_findings(c.report)->n, 0);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_true(pair_may_release(c.report));
	pair_help_free(&c);
}

/* Off: not told at all; another weight: told with that weight. */
static void the_profile_sets_weights(void **state)
{
	static const struct setting off = {"weights", NULL, "off"},
	                            note = {"weights", NULL, "note"};

	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		struct row row = rows[i];

		row.setting[2] = off;
		row.setting[2].key = finding_name(row.id);
		assert_int_equal(seen(&row, &row.with), 0);
		row.setting[2] = note;
		row.setting[2].key = finding_name(row.id);
		if (seen(&row, &row.with) == 0)
			fail_msg("%s", finding_name(row.id));
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_rule_has_two_sides),
	    cmocka_unit_test(each_finding_has_a_row),
	    cmocka_unit_test(a_good_pair_is_silent),
	    cmocka_unit_test(the_profile_sets_weights),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
