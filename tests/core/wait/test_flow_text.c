/*
 * Goal: settings, conditions, loops and jumps are read from a block's text as a control does them:
 * comments left out, what stands before what, and never by guessing what cannot be read.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>
#include "channels.h"

struct row {
	const char *upper, *lower;
	enum verdict verdict;
	unsigned unfollowed; /* findings of that kind */
};

static void walk(const struct row *row, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		struct channels c;

		channels_two(&c, row[i].upper, row[i].lower);
		if (c.result.verdict != row[i].verdict ||
		    channels_seen(&c, FINDING_FLOW_UNFOLLOWED) != row[i].unfollowed)
			fail_msg("%s: verdict %d, %u not followed", row[i].upper,
			    (int)c.result.verdict, channels_seen(&c, FINDING_FLOW_UNFOLLOWED));
		channels_end(&c);
	}
}

#define WALK(rows) walk(rows, sizeof(rows) / sizeof(*(rows)))

/* Comments, blanks, N and a slash may stand around all of it (NISTIR 6556, 3.3). */
static void around(void **state)
{
	static const struct row rows[] = {
	    {"#1 = 2 (SET IT)\n(A) N5 IF [ #1 EQ 2 ] GOTO 9 (D)\nM209\nN9 M201\nM30\n",
	        "M201\nM30\n", VERDICT_AGREE, 0},
	    {"/2 GOTO 9\nM201\nN9 M30\n", "/2 GOTO 9\nM201\nN9 M30\n", VERDICT_AGREE, 0},
	    {"/2 GOTO 9\nM201\nN9 M30\n", "M201\nM30\n", VERDICT_DISAGREE, 0},
	    {"#1=2(ONE)\nN5IF[#1EQ2]GOTO9(D) ; E\nM209\nN9M201\nM30\n", "M201\nM30\n",
	        VERDICT_AGREE, 0},
	    {"N1#1=0\nN2WHILE[#1LT2]DO1(LOOP)\nN3M201\nN4#1=#1+1\nN5END1\nM30\n",
	        "M201\nM201\nM30\n", VERDICT_AGREE, 0},
	    {"N1 DO 2\nM201\nGOTO 7\nEND 2\nN7 M30\n", "M201\nM30\n", VERDICT_AGREE, 0},
	    {"#1=1 #2=2\nIF [#2 EQ 2] GOTO 5\nM209\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE,
	        0},
	    {"if [1 eq 1] goto 5\nM209\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE, 0},
	    /* words before it move, and what they hold is no keyword */
	    {"G1 XSIN[30] Y[#3*2] ZATAN[1]/[2] F#4 IF [1 EQ 1] GOTO 5\nM209\nN5 M201\nM30\n",
	        "M201\nM30\n", VERDICT_AGREE, 0},
	    {"IF [1 EQ 1] GOTO [2+3]\nM209\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_AGREE, 0},
	    {"IF [1 EQ 1] GOTO5.0\nM209\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	};

	WALK(rows);
}

/* IF [..] THEN: the rest of the block is done or not (common practice). */
static void then(void **state)
{
	static const struct row rows[] = {
	    {"IF [1 EQ 2] THEN M201\nIF [1 EQ 1] THEN M202\nM30\n", "M202\nM30\n", VERDICT_AGREE,
	        0},
	    {"O1\nIF [1 EQ 2] THEN M98 P2\nIF [1 EQ 1] THEN M98 P2 L2\nM30\nO2\nM201\nM99\n",
	        "M201\nM201\nM30\n", VERDICT_AGREE, 0},
	    {"#1=1\nIF [#1 EQ 1] THEN #1=5\nIF [#1 EQ 5] THEN GOTO 9\nM209\nN9 M201\nM30\n",
	        "M201\nM30\n", VERDICT_AGREE, 0},
	    {"IF [1 EQ 2] THEN M30\nM201\nM30\n", "M201\nM30\n", VERDICT_AGREE, 0},
	    /* a setting before it is done in any case */
	    {"#2=3 IF [1 EQ 2] THEN #2=4\nIF [#2 EQ 3] GOTO 9\nM209\nN9 M201\nM30\n", "M201\nM30\n",
	        VERDICT_AGREE, 0},
	    {"IF [1 EQ 1] THEN\nM201\nELSE\nM202\nENDIF\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL,
	        3},
	    {"M201 IF [1 EQ 1] THEN #1=2\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	};

	WALK(rows);
}

/* Whatever cannot be read, or is read in two ways, is not chosen for the control. */
static void in_doubt(void **state)
{
	static const struct row rows[] = {
	    {"M201 GOTO 5\nN5 M30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"O1\nM98 P2 GOTO 5\nN5 M30\nO2\nM201\nM99\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"IF [#1 EQ 1 GOTO 5\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"IF #1 EQ 1 GOTO 5\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"WHILE [#1 LT] DO1\nM201\nEND1\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 2},
	    {"DO #1\nM201\nEND #1\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 2},
	    {"WHILE [1 EQ 2] DO1\nWHILE [1 EQ 1] DO2\nEND1\nEND2\nM201\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL, 2},
	    {"WHILE [1 EQ 2] DO1\nWHILE [1 EQ 1] DO1\nEND1\nEND1\nM201\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL, 1},
	    {"GOTO 5 6\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"(HIDDEN IF [#1 EQ 1] GOTO 5\nM201\nN5 M30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"(DO NOT CHECK IF IT FITS\nM201\nN5 M30\n", "M201\nM30\n", VERDICT_AGREE, 0},
	};

	WALK(rows);
}

/* A setting that cannot be read may set anything; it matters where something reads it. */
static void settings_in_doubt(void **state)
{
	static const char *const bad[] = {"#1=5.2.3", "#1=", "#1=[2", "#[1=3", "#1", "#1==3",
	    "(HIDDEN #1=4", "#[#7]=4", "##7=4", "#1=#1+1 #1=#1+1", "#1=[#100]", "#1=1/0"};
	char text[200];
	struct channels c;

	for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
		snprintf(text, sizeof text, "#1=3\n%s\nIF [#1 EQ 3] GOTO 5\nM202\nN5 M201\nM30\n",
		    bad[i]);
		if (channels_two(&c, text, "M201\nM30\n") != VERDICT_CANNOT_TELL)
			fail_msg("%s: verdict %d", bad[i], (int)c.result.verdict);
		channels_end(&c);
		snprintf(text, sizeof text, "#1=3\n%s\nM201\nM30\n", bad[i]);
		if (channels_two(&c, text, "M201\nM30\n") != VERDICT_AGREE)
			fail_msg("%s: matters: verdict %d", bad[i], (int)c.result.verdict);
		channels_end(&c);
	}
	/* a variable that is none of the program's own has no effect on what is known */
	assert_int_equal(
	    channels_two(&c, "#1=3\n#100=4\n#3901=2\nIF [#1 EQ 3] GOTO 5\nM202\nN5 M201\nM30\n",
	        "M201\nM30\n"),
	    VERDICT_AGREE);
	channels_end(&c);
}

/*
 * Settings take effect when the whole block was read (NISTIR 6556, 3.3.3); many controls take them
 * from left to right. Where that makes a difference the value is not known.
 */
static void settings_of_one_block(void **state)
{
	static const struct row rows[] = {
	    {"#1=1\n#2=2\n#1=#2 #2=#1\nIF [#1 EQ 2] GOTO 5\nM209\nN5 M201\nM30\n", "M201\nM30\n",
	        VERDICT_AGREE, 0},
	    {"#1=1\n#2=2\n#1=#2 #2=#1\nIF [#2 EQ 2] GOTO 5\nM202\nN5 M201\nM30\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL, 0},
	    {"#1=5\n#1=6 GOTO #1\nN5 M202\nN6 M201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"O1\n#1=2\n#1=3 M98 P#1\nM30\nO2\nM201\nM99\nO3\nM202\nM99\n", "M201\nM30\n",
	        VERDICT_CANNOT_TELL, 1},
	    {"O1\n#1=2\n#1=3 M98 P2 L#1\nM30\nO2\nM201\nM99\n", "M201\nM201\nM201\nM30\n",
	        VERDICT_CANNOT_TELL, 1},
	    {"#1=5 IF [#1 EQ 5] GOTO 5\nM202\nN5 M201\nM30\n", "M201\nM30\n", VERDICT_CANNOT_TELL,
	        1},
	};

	WALK(rows);
}

/* Labels that are not there, or not once: told, and not followed where a run comes there. */
static void labels(void **state)
{
	static const struct {
		const char *upper;
		enum verdict verdict;
		unsigned missing, unfollowed;
	} rows[] = {
	    {"GOTO 7\nM201\nM30\n", VERDICT_CANNOT_TELL, 1, 0},
	    {"M201\nIF [1 EQ 2] GOTO 7\nM30\n", VERDICT_AGREE, 1, 0},
	    {"M201\nM30\nGOTO 7\n", VERDICT_AGREE, 0, 0},
	    {"GOTO 7\nN7 M201\nM30\nN7 M30\n", VERDICT_CANNOT_TELL, 1, 0},
	    /* twice in front of the same */
	    {"GOTO 7\nM202\nN7 G0 X1.\nN7 G0 X2.\nM201\nM30\n", VERDICT_AGREE, 0, 0},
	    {"M99 P7\nM201\nM30\n", VERDICT_CANNOT_TELL, 1, 0},
	    {"O1\nM98 P2\nM201\nM30\nO2\nM99 P7\n", VERDICT_CANNOT_TELL, 1, 0},
	    {"O1\nM98 P2\nN7 M201\nM30\nO2\nM99 P7\n", VERDICT_AGREE, 0, 0},
	    /* contours of cycles */
	    {"G71 P10 Q20\nN10 X1.\nM201\nM30\n", VERDICT_CANNOT_TELL, 1, 1},
	    {"M201\nG70 P10 Q20\nM30\n", VERDICT_CANNOT_TELL, 1, 0},
	    {"N10 X1.\nN20 X2.\nM201\nG70 P10 Q20\nM30\n", VERDICT_AGREE, 0, 0},
	    {"N10 X1.\nM201\nN20 X2.\nG70 P10 Q20\nM30\n", VERDICT_CANNOT_TELL, 0, 1},
	    {"N10 X1.\nN20 M201\nG70 P10 Q20\nM30\n", VERDICT_CANNOT_TELL, 0, 1},
	    {"N10 X1.\nM201\nN20 X2.\nM30\nN25 G71 P10 Q20\n", VERDICT_AGREE, 0, 0},
	    {"M201\nN10 X1.\nN20 X2.\nG71 P10 Q20 U1.\nM30\n", VERDICT_AGREE, 0, 0},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;
		enum verdict v = channels_two(&c, rows[i].upper, "M201\nM30\n");

		if (v != rows[i].verdict ||
		    channels_seen(&c, FINDING_JUMP_MISSING) != rows[i].missing ||
		    channels_seen(&c, FINDING_FLOW_UNFOLLOWED) != rows[i].unfollowed)
			fail_msg("%s: verdict %d, %u missing, %u not followed", rows[i].upper,
			    (int)v, channels_seen(&c, FINDING_JUMP_MISSING),
			    channels_seen(&c, FINDING_FLOW_UNFOLLOWED));
		channels_end(&c);
	}
}

/* What a program reaches decides about ends and codes behind them. */
static void reached(void **state)
{
	static const struct {
		const char *upper;
		unsigned after, missing, uncalled;
	} rows[] = {
	    {"GOTO 5\nM202\nN5 M201\nM30\n", 1, 0, 0},
	    {"IF [#1 EQ 1] GOTO 5\nM201\nM30\nN5 M201\nM30\n", 0, 0, 0},
	    {"IF [1 EQ 2] GOTO 5\nM201\nM30\nN5 M202\nM30\n", 1, 0, 0},
	    {"GOTO #1\nM209\nN5 M201\nM30\nN6 M202\nM30\n", 1, 0, 0},
	    {"IF [#1 EQ 1] THEN M30\nM201\n", 0, 1, 0},
	    {"O1\nM98 P2\nM202\nM30\nO2\nM201\nM30\n", 1, 0, 0},
	    {"O1\nM98 P2\nM201\nM30\nO2\nIF [#1 EQ 1] THEN M99\n", 0, 1, 0},
	    {"O1\nM98 P2\nM201\nM30\nO2\nIF [#1 EQ 1] GOTO 5\nM99\nN5 M30\n", 0, 0, 0},
	    {"O1\nM201\nM30\nM98 P2\nO2\nM202\nM99\n", 0, 0, 1},
	    {"O1\nM98 P#1\nM201\nM30\nO2\nM202\nM99\n", 0, 0, 0},
	    {"O1\nWHILE [1 EQ 1] DO1\nM201\nEND1\nM202\nM30\n", 1, 0, 0},
	    /* what is not followed may lead anywhere */
	    {"M97 P5\nM201\nM30\nN5 M202\nM30\n", 0, 0, 0},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		channels_two(&c, rows[i].upper, "M201\nM30\n");
		if (channels_seen(&c, FINDING_WAIT_AFTER_END) != rows[i].after ||
		    channels_seen(&c, FINDING_END_MISSING) != rows[i].missing ||
		    channels_seen(&c, FINDING_TEXT_AFTER_END) != rows[i].uncalled)
			fail_msg("%s: %u after the end, %u without end, %u never called",
			    rows[i].upper, channels_seen(&c, FINDING_WAIT_AFTER_END),
			    channels_seen(&c, FINDING_END_MISSING),
			    channels_seen(&c, FINDING_TEXT_AFTER_END));
		channels_end(&c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(around),
	    cmocka_unit_test(then),
	    cmocka_unit_test(in_doubt),
	    cmocka_unit_test(settings_in_doubt),
	    cmocka_unit_test(settings_of_one_block),
	    cmocka_unit_test(labels),
	    cmocka_unit_test(reached),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
