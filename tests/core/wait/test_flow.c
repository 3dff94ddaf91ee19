/*
 * Goal: calls, returns and ends are followed as a control does; what cannot be followed is never
 * called agreement, and what cannot matter is not held against a program.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

#define STRAIGHT "M201\nM202\nM30\n"

/* Compares upper with M201, M202 and expects this verdict and how often this finding. */
static void expect(const char *upper, enum verdict v, enum finding_id id, unsigned seen)
{
	struct channels c;
	enum verdict got = channels_two(&c, upper, STRAIGHT);

	if (got != v || channels_seen(&c, id) != seen)
		print_message("in:\n%s", upper);
	assert_int_equal(got, v);
	assert_int_equal(channels_seen(&c, id), seen);
	channels_end(&c);
}

/* M98 P calls, L repeats, M99 returns (common practice). */
static void calls(void **state)
{
	struct channels c;

	expect("O1\nM98 P10\nM30\nO10\nM201\nM202\nM99\n", VERDICT_AGREE, FINDING_SUB_MISSING, 0);
	expect("O1\nM98 P10\nM98 P11\nM30\nO10 M201\nM99\nO11\nM202 M99\n", VERDICT_AGREE,
	    FINDING_END_MISSING, 0);
	assert_int_equal(
	    channels_two(&c, "O1\nM98 P10 L3\nM30\nO10\nM201\nM99\n", "M201\nM201\nM201\nM30\n"),
	    VERDICT_AGREE);
	channels_end(&c);
	/* the end of the program inside a subprogram ends all of it */
	expect("O1\nM98 P10\nM203\nM30\nO10\nM201\nM202\nM30\n", VERDICT_AGREE, FINDING_END_MISSING,
	    0);
}

/* The first program of a file is the main program; text before the first number belongs to it. */
static void first_is_main(void **state)
{
	expect("(HEAD)\nG0 X1.\nM201\nO1\nM202\nM30\nO2\nM203\nM99\n", VERDICT_AGREE,
	    FINDING_WAIT_AFTER_END, 0);
	expect("%\n:1\nM201\nM202\nM30\nO2\nM203\nM99\n%\n", VERDICT_AGREE, FINDING_END_MISSING, 0);
	expect("%O1(HEAD)\nM201\nM202\nM30\n%\n", VERDICT_AGREE, FINDING_END_MISSING, 0);
}

/* What stands behind the second % is not executed (NISTIR 6556, 3.1). */
static void behind_percent(void **state)
{
	expect("%\nO1\nM201\nM202\nM30\n%\nM203\nO10\nM99\n", VERDICT_AGREE, FINDING_WAIT_AFTER_END,
	    0);
	/* what stands in front of the first one is no program either: which % is meant is not known
	 */
	expect("M201\n%\nM202\nM30\n", VERDICT_CANNOT_TELL, FINDING_END_MISSING, 1);
	expect("O1\nM201\nM202\nM30\n%\n(LOADED TWICE)\n", VERDICT_AGREE, FINDING_END_MISSING, 0);
}

static void missing_sub(void **state)
{
	expect("O1\nM201\nM98 P99\nM202\nM30\n", VERDICT_CANNOT_TELL, FINDING_SUB_MISSING, 1);
	expect("O1\nM201\nM98 P99\nM202\nM30\n", VERDICT_CANNOT_TELL, FINDING_FLOW_UNFOLLOWED, 0);
	/* the difference before it counts all the same */
	expect("O1\nM205\nM98 P99\nM202\nM30\n", VERDICT_DISAGREE, FINDING_SUB_MISSING, 1);
}

static void recursion(void **state)
{
	expect("O1\nM201\nM98 P2\nM202\nM30\nO2\nM98 P3\nM99\nO3\nM98 P2\nM99\n",
	    VERDICT_CANNOT_TELL, FINDING_SUB_RECURSIVE, 1);
	expect("O1\nM98 P1\nM30\n", VERDICT_CANNOT_TELL, FINDING_SUB_RECURSIVE, 1);
	/* behind a slash or a condition it may end: it is run, and not called endless */
	expect("O1\nM98 P2\nM30\nO2\nM201\n/M98 P2\nM99\n", VERDICT_DISAGREE, FINDING_SUB_RECURSIVE,
	    0);
	expect("O1\nM98 P2\nM30\nO2\nM201\nIF [#1 EQ 1] GOTO 5\nM98 P2\nN5 M99\n", VERDICT_DISAGREE,
	    FINDING_SUB_RECURSIVE, 0);
	expect("O1\n#1=201\nM98 P2\nM30\nO2\nIF [#1 EQ 201] GOTO 5\nM202\nM99\nN5 M201\n#1=0\nM98 "
	       "P2\nM99\n",
	    VERDICT_AGREE, FINDING_SUB_RECURSIVE, 0);
	/* nor behind a call that does not come back */
	expect("O1\nM98 P2\nM30\nO2\nM201\nM202\nM98 P3\nM98 P2\nM99\nO3\nM30\n", VERDICT_AGREE,
	    FINDING_SUB_RECURSIVE, 0);
}

/* Four levels are common practice; the profile sets it. At the fifth the control alarms. */
static void deep(void **state)
{
	char text[400] = "O1\nM98 P2\nM30\n";
	struct channels c;

	for (int i = 2; i <= 5; i++)
		snprintf(text + strlen(text), sizeof text - strlen(text), "O%d\nM98 P%d\nM99\n", i,
		    i + 1);
	strcat(text, "O6\nM201\nM202\nM99\n");
	assert_int_equal(channels_two(&c, text, STRAIGHT), VERDICT_CANNOT_TELL);
	assert_int_equal(channels_seen(&c, FINDING_CALL_DEEP), 1);
	assert_int_equal(c.findings.v[0].line, 14);
	channels_end(&c);
	expect("O1\nM98 P2\nM30\nO2\nM98 P3\nM99\nO3\nM98 P4\nM99\nO4\nM98 "
	       "P5\nM99\nO5\nM201\nM202\nM99\n",
	    VERDICT_AGREE, FINDING_CALL_DEEP, 0);
}

/* A chain of calls as long as the file allows must not cost a stack. */
static void very_deep(void **state)
{
	struct text t = {0};
	struct channels c;

	text_puts(&t, "O1\n");
	for (int i = 2; i <= 50000; i++)
		text_printf(&t, "M98 P%d\nM99\nO%d\n", i, i);
	text_puts(&t, "M201\nM202\nM99\n");
	assert_false(t.failed);
	channels_begin(&c);
	c.profile.end_m99 = true;
	channels_add(&c, t.s);
	channels_add(&c, "M201\nM202\nM99\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_CANNOT_TELL);
	assert_int_equal(channels_seen(&c, FINDING_CALL_DEEP), 1);
	channels_end(&c);
	text_free(&t);
}

static void ends(void **state)
{
	struct channels c;

	expect("M201\nM202\n", VERDICT_AGREE, FINDING_END_MISSING, 1);
	expect("M201\nM202\n/M30\n", VERDICT_AGREE, FINDING_END_MISSING, 1);
	expect("M201\nM202\nM02\n", VERDICT_AGREE, FINDING_END_MISSING, 0);
	/* a subprogram without M99 */
	expect("O1\nM98 P2\nM30\nO2\nM201\nM202\n", VERDICT_AGREE, FINDING_END_MISSING, 1);
	/* M99 in the main program: an end only where the profile says so, otherwise it may begin
	 * again */
	expect("M201\nM202\nM99\n", VERDICT_CANNOT_TELL, FINDING_END_MISSING, 1);
	channels_begin(&c);
	c.profile.end_m99 = true;
	channels_add(&c, "M201\nM202\nM99\n");
	channels_add(&c, "M201\nM202\nM99\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_int_equal(c.findings.n, 0);
	channels_end(&c);
}

static void after_end(void **state)
{
	expect("M201\nM202\nM30\nM203\nM204\n", VERDICT_AGREE, FINDING_WAIT_AFTER_END, 2);
	expect("O1\nM98 P2\nM30\nO2\nM201\nM202\nM99\nM203\n", VERDICT_AGREE,
	    FINDING_WAIT_AFTER_END, 1);
	expect("M201\nM202\n/M30\nM30\n", VERDICT_AGREE, FINDING_WAIT_AFTER_END, 0);
	/* a jump may lead there */
	expect("M201\nM202\nIF [#1 EQ 1] GOTO 9\nM30\nN9 M203\nM30\n", VERDICT_CANNOT_TELL,
	    FINDING_WAIT_AFTER_END, 0);
}

/* Each of these changes which codes are met, or may: never agreement, although the text has the
 * same codes in order. What only the run shows is no finding of the flow. */
static void not_followed(void **state)
{
	static const struct {
		const char *between;
		enum verdict verdict;
		unsigned unfollowed;
	} rows[] = {{"GOTO #5", VERDICT_CANNOT_TELL, 0},
	    {"IF [#1 EQ 1] GOTO 50", VERDICT_CANNOT_TELL, 0},
	    {"IF [#1 EQ 1] THEN M203", VERDICT_CANNOT_TELL, 0},
	    {"WHILE [#1 LT 3] DO1", VERDICT_CANNOT_TELL, 1}, {"END1", VERDICT_CANNOT_TELL, 1},
	    {"M#1", VERDICT_CANNOT_TELL, 1}, {"M[200+#2]", VERDICT_CANNOT_TELL, 1},
	    {"M98 P#1", VERDICT_CANNOT_TELL, 0}, {"M98 P10 L#2", VERDICT_CANNOT_TELL, 0},
	    {"M98", VERDICT_CANNOT_TELL, 1}, {"M98 P10 L0", VERDICT_CANNOT_TELL, 1},
	    {"M98 P10 M98 P10", VERDICT_CANNOT_TELL, 1}, {"G65 P10", VERDICT_DISAGREE, 0},
	    {"G65 P777", VERDICT_CANNOT_TELL, 1}, {"G66 P777 A1.", VERDICT_CANNOT_TELL, 1},
	    {"G#1 P10", VERDICT_CANNOT_TELL, 1}, {"M97 P50", VERDICT_CANNOT_TELL, 1},
	    {"M99 P50", VERDICT_DISAGREE, 0}, {"M99 P#1", VERDICT_CANNOT_TELL, 0},
	    {"M99 L3", VERDICT_CANNOT_TELL, 1}, {"G65 P20 M203", VERDICT_CANNOT_TELL, 1},
	    {":30", VERDICT_CANNOT_TELL, 1}, {"(OPEN M203", VERDICT_CANNOT_TELL, 1},
	    {"(A (B) C) M203", VERDICT_CANNOT_TELL, 1}, {"M2.0.3", VERDICT_CANNOT_TELL, 1},
	    {"M20\"3 M", VERDICT_CANNOT_TELL, 1}, {"M20 3.5.1", VERDICT_CANNOT_TELL, 1},
	    {"M198 P10", VERDICT_CANNOT_TELL, 1}, {"M98 P10.5", VERDICT_CANNOT_TELL, 1}};
	char text[300];

	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		snprintf(text, sizeof text, "O1\nM201\n%s\nM202\nN50 G0 X1.\nM30\nO10\nM203\nM99\n",
		    rows[i].between);
		expect(text, rows[i].verdict, FINDING_FLOW_UNFOLLOWED, rows[i].unfollowed);
	}
}

/* And none of these can. */
static void irrelevant(void **state)
{
	static const char *const between[] = {"IF [#1 EQ 1] GOTO 50\nG1 X1.\nN50 G0 X5.",
	    "WHILE [#1 LT 3] DO1\nG1 X#1\n#1=#1+1\nEND1", "IF [#1 EQ 1] THEN #2=3", "#1=200+1",
	    "X#1 Z[#2*2]", "G65 P20 A1.", "M98 P20 L#7", "M98 P20 L0", "M98 P21", "M98 P22",
	    "G66 P20 X1.\nX1.\nG67", "WHILE [1 EQ 0] DO1\nEND1", "(CHECK GAUGE", "(A (B) C)",
	    "IF [#1 EQ 1] GOTO 60\nIF [#2 EQ 1] GOTO 70\nN60\nM98 P20\nN70", "G#1 X5.",
	    "WHILE [#1 LT 3] DO1\nWHILE [#2 LT 3] DO2\nG1 X#1\nEND2\nEND1"};
	char text[400];

	for (size_t i = 0; i < sizeof between / sizeof between[0]; i++) {
		snprintf(text, sizeof text,
		    "O1\nM201\n%s\nM202\nM30\nO20\nG0 X1.\nM99\nO21\nN1 IF [#1 EQ 2] GOTO 1\nM99\n"
		    "O22\nGOTO #3\nN1 M99\n",
		    between[i]);
		expect(text, VERDICT_AGREE, FINDING_FLOW_UNFOLLOWED, 0);
	}
}

/* A jump over a wait code is one that matters; one to the next block is none. */
static void spans(void **state)
{
	expect("M201\nIF [#1 EQ 1] GOTO 50\nM202\nN50 M30\n", VERDICT_CANNOT_TELL,
	    FINDING_FLOW_UNFOLLOWED, 0);
	expect("N60 M201\nIF [#1 EQ 1] GOTO 50\nN50 M202\nM30\n", VERDICT_AGREE,
	    FINDING_FLOW_UNFOLLOWED, 0);
	expect("N10 M201\nWHILE [#1 LT 2] DO1\nM202\nEND1\nM30\n", VERDICT_CANNOT_TELL,
	    FINDING_FLOW_UNFOLLOWED, 0);
	/* a label in another program of the file is not this one's */
	expect("O1\nM201\nIF [#1 EQ 1] GOTO 50\nM202\nM30\nO2\nN50 M99\n", VERDICT_CANNOT_TELL,
	    FINDING_JUMP_MISSING, 1);
}

/* Programs without any wait code may jump as they like. */
static void nothing_to_meet(void **state)
{
	struct channels c;

	assert_int_equal(
	    channels_two(&c, "N10 G0 X1.\nIF [#1 LT 5] GOTO 10\nGOTO #3\nM99\n", "G0 X1.\nM30\n"),
	    VERDICT_AGREE);
	channels_end(&c);
}

/* First ) closes; a code in a comment does not count (NISTIR 6556, 3.3.4; ISO 6983-1). */
static void comments(void **state)
{
	expect("M201\nN70 (M206 MOVED)\nM202 ; M203\nM30\n", VERDICT_AGREE, FINDING_FLOW_UNFOLLOWED,
	    0);
	expect("M201\nN50 (BORE (2 OF 3) SIZE) M202\nM30\n", VERDICT_CANNOT_TELL,
	    FINDING_FLOW_UNFOLLOWED, 1);
	expect("M201\nN60 (CHECK GAUGE M205\nM202\nM30\n", VERDICT_CANNOT_TELL,
	    FINDING_FLOW_UNFOLLOWED, 1);
}

/* The codes of the text, with level and place. */
static void codes(void **state)
{
	struct channels c;
	const struct wait_code *w;

	channels_begin(&c);
	channels_add(&c, "N10 G0\nN20 M201\n  /3 M0205 (X)\nM30\n");
	assert_int_equal(wait_flow_codes(c.flow[0]), 2);
	w = wait_flow_code(c.flow[0], 0);
	assert_int_equal(w->code, 201);
	assert_int_equal(w->at.line, 2);
	assert_int_equal(w->at.col, 5);
	assert_int_equal(w->at.sequence, 20);
	w = wait_flow_code(c.flow[0], 1);
	assert_int_equal(w->code, 205);
	assert_int_equal(w->skip, 3);
	assert_int_equal(w->at.col, 6);
	assert_int_equal(w->at.sequence, -1);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(calls),
	    cmocka_unit_test(first_is_main),
	    cmocka_unit_test(behind_percent),
	    cmocka_unit_test(missing_sub),
	    cmocka_unit_test(recursion),
	    cmocka_unit_test(deep),
	    cmocka_unit_test(very_deep),
	    cmocka_unit_test(ends),
	    cmocka_unit_test(after_end),
	    cmocka_unit_test(not_followed),
	    cmocka_unit_test(irrelevant),
	    cmocka_unit_test(spans),
	    cmocka_unit_test(nothing_to_meet),
	    cmocka_unit_test(comments),
	    cmocka_unit_test(codes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
