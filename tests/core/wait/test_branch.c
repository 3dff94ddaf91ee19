/*
 * Goal: conditions on what a program holds are followed exactly; conditions on unknown data go both
 * ways, and what some of these ways do is told apart from what all of them do. Loops end or are
 * known not to.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

struct row {
	const char *upper, *lower;
	enum verdict verdict;
	const char *rungs; /* of the run shown, NULL: any */
	enum finding_id repair;
};

static void walk(const struct row *rows, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		struct channels c;
		const char *rungs;

		channels_two(&c, rows[i].upper, rows[i].lower);
		rungs = channels_rungs(&c);
		if (c.result.verdict != rows[i].verdict || c.result.repair != rows[i].repair ||
		    (rows[i].rungs && strcmp(rungs, rows[i].rungs) != 0))
			fail_msg("%s: verdict %d, %s, repair %d", rows[i].upper,
			    (int)c.result.verdict, rungs, (int)c.result.repair);
		channels_end(&c);
	}
}

#define WALK(rows) walk(rows, sizeof(rows) / sizeof(*(rows)))

/* Local variables, conditions and loops that can be computed (NISTIR 6556, 3.3.2; common practice
 * for IF, WHILE and GOTO). */
static void computed(void **state)
{
	static const struct row rows[] = {
	    {"#1=3\nIF [#1 EQ 3] GOTO 10\nM209\nN10 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE,
	        "201/201 ./.", FINDING_COUNT},
	    {"#1=3\nIF [#1 NE 3] GOTO 10\nM201\nN10 M202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"#1=0\nWHILE [#1 LT 3] DO1\nM201\n#1=#1+1\nEND1\nM30\n", "M201\nM201\nM201\nM30\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"#1=0\nWHILE [#1 LT 2] DO1\n#2=0\nWHILE [#2 LT 2] DO2\nM201\n#2=#2+1\nEND2\nM202\n"
	     "#1=#1+1\nEND1\nM30\n",
	        "M201\nM201\nM202\nM201\nM201\nM202\nM30\n", VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"#1=0\nN10 M201\n#1=#1+1\nIF [#1 LT 3] GOTO 10\nM30\n", "M201\nM201\nM201\nM30\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"#1=30\nGOTO [#1+10]\nM209\nN40 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE, NULL,
	        FINDING_COUNT},
	    {"O1\n#1=2\nM98 P[#1*5] L#1\nM30\nO10\nM201\nM99\n", "M201\nM201\nM30\n", VERDICT_AGREE,
	        NULL, FINDING_COUNT},
	    /* a subprogram shares its caller's variables */
	    {"O1\n#1=2\nM98 P2\nM30\nO2\nIF [#1 EQ 2] GOTO 10\nM209\nN10 M201\nM99\n",
	        "M201\nM30\n", VERDICT_AGREE, NULL, FINDING_COUNT},
	    /* the same, and the loop goes once too often */
	    {"#1=0\nWHILE [#1 LE 3] DO1\nM201\n#1=#1+1\nEND1\nM30\n", "M201\nM201\nM201\nM30\n",
	        VERDICT_DISAGREE, "201/201 201/201 201/201 201/.!", FINDING_WAIT_MISSING},
	};

	WALK(rows);
}

/* A macro has local variables of its own, set from its arguments: A is #1, B is #2, .. (common
 * practice). */
static void macros(void **state)
{
	static const struct row rows[] = {
	    {"O1\n#1=9\nG65 P2 A2.\nIF [#1 EQ 9] GOTO 10\nM209\nN10 M202\nM30\n"
	     "O2\nWHILE [#1 GT 0] DO1\nM201\n#1=#1-1\nEND1\nM99\n",
	        "M201\nM201\nM202\nM30\n", VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"O1\nG65 P2 A1. B2.\nG65 P2 A3. B#9\nM30\nO2\nIF [#1 EQ 3] GOTO 5\nIF [#2 EQ 2] GOTO "
	     "5\n"
	     "M209\nN5 M201\nM99\n",
	        "M201\nM201\nM30\n", VERDICT_AGREE, NULL, FINDING_COUNT},
	    /* behind each block that moves, until G67 */
	    {"O1\nG66 P2 A1.\nX1.\nX2.\nG67\nX3.\nM30\nO2\nM201\nM99\n", "M201\nM201\nM30\n",
	        VERDICT_AGREE, "201/201 201/201 ./.", FINDING_COUNT},
	    {"O1\nG66 P2 A2.\nM98 P3 L2\nG67\nM30\nO2\n#1=#1-1\nIF [#1 NE 1] GOTO 9\nM201\nN9 M99\n"
	     "O3\nX1.\nM99\n",
	        "M201\nM201\nM30\n", VERDICT_AGREE, NULL, FINDING_COUNT},
	};

	WALK(rows);
}

/* M99 P goes to a label of the caller (common practice). */
static void returns(void **state)
{
	static const struct row rows[] = {
	    {"O1\nM98 P2\nM209\nN5 M201\nM30\nO2\nM99 P5\n", "M201\nM30\n", VERDICT_AGREE, NULL,
	        FINDING_COUNT},
	    {"O1\n#1=5\nM98 P2\nM209\nN5 M201\nM30\nO2\nM99 P#1\n", "M201\nM30\n", VERDICT_AGREE,
	        NULL, FINDING_COUNT},
	    {"O1\nN5 M98 P2\nM201\nM30\nO2\nM99 P5\n", "M201\nM30\n", VERDICT_DISAGREE, "?/201!",
	        FINDING_LOOP_ENDLESS},
	};

	WALK(rows);
}

/* Both ways of a condition on unknown data. */
static void unknown(void **state)
{
	static const struct row rows[] = {
	    /* the same either way */
	    {"M201\nIF [#500 EQ 1] GOTO 10\nM202\nGOTO 20\nN10 M202\nN20 M30\n",
	        "M201\nM202\nM30\n", VERDICT_AGREE, NULL, FINDING_COUNT},
	    /* one way fails */
	    {"M201\nIF [#500 EQ 1] GOTO 10\nM202\nN10 M203\nM30\n", "M201\nM202\nM203\nM30\n",
	        VERDICT_CANNOT_TELL, "201/201 203/202!", FINDING_WAIT_BRANCH},
	    {"M201\nM203\nM30\n", "M201\nIF [#500 EQ 1] GOTO 10\nM202\nN10 M203\nM30\n",
	        VERDICT_CANNOT_TELL, "201/201 203/202!", FINDING_WAIT_BRANCH},
	    /* every way fails, this one after the fewest meetings */
	    {"M201\nIF [#500 EQ 1] GOTO 10\nM202\nN10 M30\n", "M201\nM204\nM30\n", VERDICT_DISAGREE,
	        "201/201 ./204!", FINDING_WAIT_MISSING},
	    /* both programs ask, and nothing says that they are answered alike */
	    {"IF [#500 EQ 1] GOTO 10\nM201\nN10 M30\n", "IF [#500 EQ 1] GOTO 10\nM201\nN10 M30\n",
	        VERDICT_CANNOT_TELL, NULL, FINDING_WAIT_BRANCH},
	    /* a loop that unknown data ends, around no wait code, with a counter or without */
	    {"M201\nN10 G0 U-1.\nIF [#500 GT 3] GOTO 10\nM202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"M201\n#1=0\nN10 #1=#1+1\nIF [#1 LT #500] GOTO 10\nM202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"M201\n#1=0\nWHILE [#1 LT #500] DO1\n#1=#1+1\nEND1\nM202\nM30\n", "M201\nM203\nM30\n",
	        VERDICT_DISAGREE, "201/201 202/203!", FINDING_WAIT_DIFFERS},
	    /* around a wait code: the mate would have to know when it ends */
	    {"N10 M201\nIF [#500 GT 3] GOTO 10\nM202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL, "201/201 201/202!", FINDING_WAIT_BRANCH},
	    {"#1=0\nN10 M201\n#1=#1+1\nIF [#1 LT #500] GOTO 10\nM202\nM30\n",
	        "#1=0\nN10 M201\n#1=#1+1\nIF [#1 LT #500] GOTO 10\nM202\nM30\n",
	        VERDICT_CANNOT_TELL, "201/201 201/202!", FINDING_WAIT_BRANCH},
	};

	WALK(rows);
}

/* The run shown can be walked again: its conditions are told with where they stand. */
static void choices(void **state)
{
	struct channels c;
	const struct wait_run *run;

	channels_two(&c,
	    "M201\nIF [#500 EQ 1] GOTO 10\nG0 X1.\nN10 M202\nIF [#501 EQ 1] GOTO 20\n"
	    "M203\nN20 M30\n",
	    "M201\nM202\nM203\nM30\n");
	run = &c.result.run[0];
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	assert_true(c.result.branches);
	assert_int_equal(run->last.line, 5);
	assert_int_equal(run->choice[run->choices - 1], 1);
	assert_int_equal(c.result.run[1].choices, 0);
	assert_int_equal(c.result.channel_a, 0);
	assert_int_equal(c.result.place_a.line, 5);
	assert_int_equal(c.result.channel_b, 1);
	assert_int_equal(c.result.place_b.line, 3);
	assert_int_equal(c.result.code_b, 203);
	channels_end(&c);
}

/* A way that cannot be followed, beside one that fails and one that is good. */
static void lost(void **state)
{
	static const struct row rows[] = {
	    {"M201\nIF [#500 EQ 1] GOTO 10\nGOTO #501\nN10 M202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL, "201/201 ?/202!", FINDING_FLOW_UNFOLLOWED},
	    {"M201\nIF [#500 EQ 1] GOTO 10\nGOTO #501\nN10 M203\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_CANNOT_TELL, "201/201 203/202!", FINDING_WAIT_BRANCH},
	    {"M201\n#1=1/0\nIF [#1 EQ 0] GOTO 10\nN10 M202\nM30\n", "M201\nM202\nM30\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	    {"M201\n#1=0\n#2=1/#1\nIF [#2 EQ 1] GOTO 10\nM209\nN10 M202\nM30\n",
	        "M201\nM202\nM30\n", VERDICT_CANNOT_TELL, "201/201 ?/202!",
	        FINDING_FLOW_UNFOLLOWED},
	};

	WALK(rows);
}

/* Loops that nothing ends. */
static void endless(void **state)
{
	static const struct row rows[] = {
	    {"N10 G0 X1.\nGOTO 10\nM201\nM30\n", "M201\nM30\n", VERDICT_DISAGREE, "?/201!",
	        FINDING_LOOP_ENDLESS},
	    {"#1=0\nWHILE [#1 LT 3] DO1\nM201\nN10 IF [#1 EQ 0] GOTO 10\nEND1\nM30\n",
	        "M201\nM201\nM30\n", VERDICT_DISAGREE, "201/201 ?/201!", FINDING_LOOP_ENDLESS},
	    /* #1 never changes */
	    {"#1=0\nWHILE [#1 LT 3] DO1\n#2=#1\nEND1\nM201\nM30\n", "M201\nM30\n", VERDICT_DISAGREE,
	        "?/201!", FINDING_LOOP_ENDLESS},
	    /* whatever the unknown data is */
	    {"N10 IF [#500 EQ 1] GOTO 10\nGOTO 10\nM201\nM30\n", "M201\nM30\n", VERDICT_DISAGREE,
	        "?/201!", FINDING_LOOP_ENDLESS},
	    /* one way only */
	    {"IF [#500 EQ 1] GOTO 20\nN10 GOTO 10\nN20 M201\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL, "?/201!", FINDING_LOOP_ENDLESS},
	    /* one way only, and whatever the unknown data in that loop is */
	    {"IF [#500 GT 2] GOTO 10\nM201\nM30\nN10 IF [#500 EQ 0] GOTO 10\nGOTO 10\n",
	        "M201\nM30\n", VERDICT_CANNOT_TELL, "?/201!", FINDING_LOOP_ENDLESS},
	    /* with wait codes in it, in both: that is a program that never ends, and waits for
	     * nobody
	     */
	    {"N10 M201\nGOTO 10\nM30\n", "N10 M201\nGOTO 10\nM30\n", VERDICT_AGREE, NULL,
	        FINDING_COUNT},
	    {"N10 M201\nGOTO 10\nM30\n", "N10 M201\nM202\nGOTO 10\nM30\n", VERDICT_DISAGREE, NULL,
	        FINDING_WAIT_MISSING},
	};
	struct channels c;

	WALK(rows);
	/* nobody waits for it */
	channels_two(
	    &c, "M201\nN10 IF [#500 EQ 1] GOTO 20\nN20 GOTO 10\nM202\nM30\n", "M201\nM30\n");
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_int_equal(c.result.repair, FINDING_LOOP_ENDLESS);
	assert_int_equal(c.result.channel_b, -1);
	channels_end(&c);
	/* its loop is told with both places */
	channels_two(&c, "G0 X1.\nN10 GOTO 10\nM201\nM30\n", "G0 X1.\nG1 X2.\nM201\nM30\n");
	assert_int_equal(c.result.channel_a, 0);
	assert_int_equal(c.result.place_a.line, 2);
	assert_int_equal(c.result.place_b.line, 3);
	channels_end(&c);
}

/* Every run fails, but for one that goes round for ever: then not every run does. */
/*
 * What stands behind an end is never gone on with, and what it reads does not matter: once a run
 * was shown that no way of a condition led to, because an ended channel still held what a loop's
 * END behind its M30 reads; the proof then said that it had no memory.
 */
static void behind_an_end(void **state)
{
#define LOOP(set)                                                                                  \
	"#2=" set "\nDO1\nM201\nIF[#500LT1]GOTO12\nIF[#2EQ0]GOTO14\nM201\nM30\nGOTO15\n"           \
	"N14\nM201\nM30\nN15\nN12\nEND1\n"
	struct channels c;

	channels_two(&c, LOOP("0"), LOOP("2"));
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	assert_int_equal(c.result.run[0].choices, 1);
	assert_int_equal(c.result.run[1].choices, 2);
	channels_end(&c);
#undef LOOP
}

static void for_ever_is_no_failure(void **state)
{
	static const struct row rows[] = {
	    {"N10 M201\nIF [#500 EQ 1] GOTO 10\nM202\nM30\n",
	        "N10 M201\nIF [#500 EQ 1] GOTO 10\nM203\nM30\n", VERDICT_CANNOT_TELL, NULL,
	        FINDING_WAIT_BRANCH},
	    {"N10 M201\nIF [#500 EQ 1] GOTO 10\nM201\nGOTO 10\n", "N10 M201\nGOTO 10\n",
	        VERDICT_AGREE, NULL, FINDING_COUNT},
	};

	WALK(rows);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(computed),
	    cmocka_unit_test(macros),
	    cmocka_unit_test(returns),
	    cmocka_unit_test(unknown),
	    cmocka_unit_test(choices),
	    cmocka_unit_test(lost),
	    cmocka_unit_test(endless),
	    cmocka_unit_test(behind_an_end),
	    cmocka_unit_test(for_ever_is_no_failure),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
