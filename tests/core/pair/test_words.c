/*
 * Goal: what the proof found is told in words that a setter can follow at the machine: the
 * switches, the conditions, where each channel stands, and what to change where.
 */
#include <stdlib.h>
#include "pair_help.h"

#define PROGRAM(body) "%\nO4417(REV C)\n" body "M30\n%\n"

struct row {
	const char *upper, *lower;
	enum finding_id id;
	const char *text, *remedy;
	uint64_t line, also_line;
};

static const struct row rows[] = {
    /* the condition decides whether upper meets M202 */
    {PROGRAM("M201\nIF[#500EQ1]GOTO10\nM202\nN10M203\n"), PROGRAM("M201\nM202\nM203\n"),
        FINDING_WAIT_BRANCH,
        "wait 2, when the condition in line 4 of upper is true: upper M203 (line 6), lower M202 "
        "(line 4): both stand for ever",
        "likeliest repair: let upper meet M202 whichever way the condition in line 4 goes", 4, 4},
    /* the code stands in upper's branch, and lower has none */
    {PROGRAM("M201\nIF[#500EQ1]GOTO10\nM202\nN10M203\n"), PROGRAM("M201\nM203\n"),
        FINDING_WAIT_BRANCH,
        "wait 2, when the condition in line 4 of upper is false: upper M202 (line 5), lower M203 "
        "(line 4): both stand for ever",
        "likeliest repair: move M202 of upper out of the branch at line 4, or let lower meet it "
        "too",
        4, 4},
    {PROGRAM("M201\nIF[#500EQ1]GOTO10\nM202\nN10IF[#501EQ1]GOTO20\nM203\nN20G0X1.\n"),
        PROGRAM("M201\nM202\nM203\n"), FINDING_WAIT_BRANCH,
        "wait 2, when the last of 2 conditions that it meets, in line 6 of upper is true: upper "
        "has ended, lower M202 (line 4): lower stands for ever",
        NULL, 6, 4},
    {"%\nO4417(REV C)\nM98P1L3\nM30\nO1\nM201\nM99\n%\n",
        "%\nO4417(REV C)\nM98P1L4\nM30\nO1\nG0X1.\nM201\nM99\n%\n", FINDING_WAIT_REPEATS,
        "wait 4: upper has ended, lower M201 (line 7): lower stands for ever",
        "likeliest repair: repeat alike: lower meets M201 4 times and upper 3 times, lower line 7 "
        "and upper line 6",
        7, 6},
    /* one repeat to correct is likelier than two codes that are lacking */
    {"%\nO4417(REV C)\nM98P1L3\nM30\nO1\nM201\nM99\n%\n", PROGRAM("M201\n"), FINDING_WAIT_REPEATS,
        "wait 2: upper M201 (line 6), lower has ended: upper stands for ever",
        "likeliest repair: repeat alike: upper meets M201 3 times and lower 1 time, upper line 6 "
        "and lower line 3",
        6, 3},
    /* a return leads past it: no end stands in front of it */
    {"%\nO4417(REV C)\nM98P1\nM202\nN50M203\nM30\nO1\nM201\nM99P50\n%\n", PROGRAM("M201\nM203\n"),
        FINDING_WAIT_AFTER_END,
        "wait code M202 stands where a jump or a return leads past it and is never reached",
        "remove it, or what leads past it", 4, 0},
    {"%\nO4417(REV C)\nM201\nM30\nG0X1.\n%\n", PROGRAM("M201\n"), FINDING_TEXT_AFTER_END,
        "1 block follows the program end in line 4 and is not executed",
        "remove them, or see whether the end stands in the right place", 5, 0},
    {PROGRAM("M201\n#1=0\nN10G0X1.\nIF[#1EQ0]GOTO10\nM202\n"), PROGRAM("M201\nM202\n"),
        FINDING_LOOP_ENDLESS,
        "wait 2: upper runs in a loop for ever (line 6), lower M202 (line 4): lower stands for "
        "ever",
        "likeliest repair: correct the loop in line 6 of upper: its condition, or what it counts",
        6, 4},
    {PROGRAM("M201\n#1=0\nN10G0X1.\nIF[#1EQ0]GOTO10\n"), PROGRAM("M201\n"), FINDING_LOOP_ENDLESS,
        "upper runs in this loop for ever and never comes to its end",
        "correct its condition, or what it counts", 6, 0},
    {PROGRAM("M201\n#1=0\nGOTO#100\nM202\n"), PROGRAM("M201\nM202\n"), FINDING_FLOW_UNFOLLOWED,
        NULL, NULL, 5, 0},
    {PROGRAM("#1=0\n#2=1/#1\nIF[#2EQ1]GOTO10\nM201\nN10G0X1.\n"), PROGRAM("M201\n"),
        FINDING_FLOW_UNFOLLOWED, NULL, NULL, 4, 0},
};

static void told(void **state)
{
	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		struct checked c = {0};
		const struct finding *f;

		pair_help_two(&c, rows[i].upper, rows[i].lower);
		print_message("row %zu\n", i);
		if (rows[i].text)
			pair_help_text(&c, rows[i].id, rows[i].text);
		f = pair_help_find(&c, rows[i].id);
		if (rows[i].remedy)
			assert_string_equal(f->remedy, rows[i].remedy);
		assert_int_equal(f->line, rows[i].line);
		assert_int_equal(f->also_line, rows[i].also_line);
		pair_help_free(&c);
	}
}

/* The closing line of a run that does not fail. */
static void outcomes(void **state)
{
	static const struct {
		const char *upper, *lower, *line;
	} ends[] = {
	    {PROGRAM("M201\n"), PROGRAM("G0X1.\nM201\n"),
	        "agree: 1 meeting, then the programs end\n"},
	    {PROGRAM("M201\nIF[#500EQ1]GOTO10\nM202\nGOTO20\nN10M202\nN20G0X1.\n"),
	        PROGRAM("M201\nM202\n"),
	        "agree: 2 meetings, then the programs end; so do all runs that depend on unknown "
	        "data\n"},
	    {PROGRAM("/M201\n"), PROGRAM("G0X1.\n/M201\n"),
	        "agree: 1 meeting, then the programs end; 2 settings of block skip were "
	        "examined\n"},
	    {PROGRAM("M201\nN10G0X1.\nGOTO10\n"), PROGRAM("M201\n"),
	        "agree: 1 meeting, then upper runs in a loop for ever\n"},
	    /* it was said that they end */
	    {PROGRAM("N10M201\nGOTO10\n"), PROGRAM("N10M201\nG0X1.\nGOTO10\n"),
	        "agree: 2 meetings, then the programs go round a loop and meet there again and "
	        "again\n"},
	    {PROGRAM("M201\nIF[#500EQ1]GOTO10\nM202\nN10M203\n"), PROGRAM("M201\nM203\n"),
	        "cannot tell: a run may fail at wait 2, when the condition in line 4 of upper is "
	        "false: upper M202 (line 5), lower M203 (line 4): both stand for ever; likeliest "
	        "repair: move M202 of upper out of the branch at line 4, or let lower meet it "
	        "too\n"},
	};

	for (size_t i = 0; i < sizeof(ends) / sizeof(*ends); i++) {
		struct checked c = {0};
		struct text t = {0};

		pair_help_two(&c, ends[i].upper, ends[i].lower);
		pair_print_summary(c.report, &t);
		print_message("row %zu\n", i);
		if (strncmp(t.s, ends[i].line, strlen(ends[i].line)) != 0)
			fail_msg("%s", t.s);
		text_free(&t);
		pair_help_free(&c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(told),
	    cmocka_unit_test(outcomes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
