/*
 * Goal: programs that are called by name, and waits that are written as calls, are followed and
 * judged as numbers and codes are (common practice of the controls that have them).
 */
#include <stdio.h>
#include "pair_help.h"

#define HEAD "%\nO1 (REV A)\nG0 X1.\n"
#define TAIL "G0 X2.\nM30\n%\n"

static void begin(struct checked *c)
{
	pair_help_profile(&c->profile);
	pair_help_set(&c->profile, "wait", "call", "MEET({code},{channels})");
}

static void two(struct checked *c, const char *upper, const char *lower)
{
	const struct source s[] = {{"J4417.UP", upper, 0}, {"J4417.LO", lower, 0}};

	begin(c);
	pair_help_check(c, s, 2);
}

static void calls_meet(void **state)
{
	static const struct {
		const char *upper, *lower;
		enum verdict verdict;
	} rows[] = {
	    {"MEET(7,2)\n", "MEET(7,1)\n", VERDICT_AGREE},
	    {"N5 MEET (7, 2) (A)\n", "MEET(7)\n", VERDICT_AGREE},
	    {"MEET(7,2)\n", "meet(7,1)\n", VERDICT_CANNOT_TELL},
	    {"MEET(7,2)\nMEET(8,2)\n", "MEET(7,1)\nMEET(8,1)\n", VERDICT_AGREE},
	    {"MEET(7,2)\n", "MEET(8,1)\n", VERDICT_DISAGREE},
	    {"MEET(7,2)\n", "", VERDICT_DISAGREE},
	    /* a call is not the M code of the same number */
	    {"MEET(201)\n", "M201\n", VERDICT_DISAGREE},
	    {"MEET(7,5)\n", "MEET(7,1)\n", VERDICT_CANNOT_TELL},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct checked c;
		char upper[200], lower[200];

		snprintf(upper, sizeof upper, "%s%s%s", HEAD, rows[i].upper, TAIL);
		snprintf(lower, sizeof lower, "%s%s%s", HEAD, rows[i].lower, TAIL);
		two(&c, upper, lower);
		if (pair_verdict(c.report) != rows[i].verdict)
			fail_msg("%s: %d", rows[i].upper, (int)pair_verdict(c.report));
		pair_help_free(&c);
	}
}

/* What is asked of a wait code in its block is asked of a call. */
static void calls_in_their_block(void **state)
{
	static const struct {
		const char *text;
		enum finding_id id;
		const char *told;
	} rows[] = {
	    {"MEET(7) X1.\n", FINDING_WAIT_NOT_ALONE, "MEET shares its block with other words"},
	    {"MEET(7) M201\n", FINDING_WAIT_NOT_ALONE,
	        "M201 shares its block with another wait code"},
	    {"G41 X1.\nMEET(7)\n", FINDING_WAIT_COMPENSATION, "MEET while G41 or G42 is on"},
	    {"MEET(7) M30\n", FINDING_WAIT_LAST_BLOCK,
	        "MEET in one block with the program end M30"},
	    {"meet(7)\n", FINDING_WAIT_UNCERTAIN,
	        "MEET in lower case: whether the control takes it is uncertain"},
	    {"(A (B) MEET(7)\n", FINDING_WAIT_UNCERTAIN,
	        "MEET after a broken comment: whether it counts is uncertain"},
	    {"MEET(7) N5\n", FINDING_WORD_BAD, "sequence number N5 inside the block"},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct checked c;
		char upper[200];

		snprintf(upper, sizeof upper, "%s%s%s", HEAD, rows[i].text, TAIL);
		two(&c, upper, HEAD "MEET(7)\n" TAIL);
		pair_help_text(&c, rows[i].id, rows[i].told);
		pair_help_free(&c);
	}
}

static void call_in_the_last_block(void **state)
{
	struct checked c;

	two(&c, "%\nO1 (REV A)\nG0 X1.\nMEET(7)\n%\n", HEAD "MEET(7)\n" TAIL);
	pair_help_text(
	    &c, FINDING_WAIT_LAST_BLOCK, "a wait code stands in the last block of the file");
	pair_help_free(&c);
}

/* A call alone in its block, and nothing else wrong. */
static void good_calls(void **state)
{
	struct checked c;

	two(&c, HEAD "N10 MEET(7,2) (A)\n" TAIL, HEAD "MEET(7,1)\n" TAIL);
	assert_int_equal(pair_findings(c.report)->n, 0);
	assert_true(pair_may_release(c.report));
	pair_help_free(&c);
}

/* Where the profile knows no call it is text that is no word, and a comment. */
static void no_call(void **state)
{
	struct checked c;

	pair_help_two(&c, HEAD "MEET(7,2)\n" TAIL, HEAD TAIL);
	assert_int_equal(pair_help_seen(&c, FINDING_WORD_BAD), 1);
	pair_help_free(&c);
}

static void called_by_name(void **state)
{
	static const struct {
		const char *text;
		enum verdict verdict;
	} rows[] = {
	    {"M98 <SUB>\nM30\nO<SUB>\nM201\nM99\n%\n", VERDICT_AGREE},
	    {"M98 <sub>\nM30\nO<SUB>\nM201\nM99\n%\n", VERDICT_AGREE},
	    {"M98 <SUB>\nM30\nO<SUBS>\nM99\nO<SUB>\nM201\nM99\n%\n", VERDICT_AGREE},
	    {"M98 <SUB> L2\nM30\nO<SUB>\nM201\nM99\n%\n", VERDICT_DISAGREE},
	    {"M98 <SUB>\nM30\nO<SUB>\nM202\nM99\n%\n", VERDICT_DISAGREE},
	    {"M98 <SUB>\nM201\nM30\n%\n", VERDICT_CANNOT_TELL},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct checked c;
		char upper[200];

		snprintf(upper, sizeof upper, "%s%s", HEAD, rows[i].text);
		two(&c, upper, HEAD "M201\n" TAIL);
		if (pair_verdict(c.report) != rows[i].verdict)
			fail_msg("%s: %d", rows[i].text, (int)pair_verdict(c.report));
		assert_int_equal(pair_help_seen(&c, FINDING_WORD_BAD), 0);
		pair_help_free(&c);
	}
}

/* A main program with a name has no number that could be out of range, missing or unlike its
 * mate's. */
static void named(void **state)
{
	struct checked c;

	two(&c, "%\nO<BUSH> (REV A)\nG0 X1.\nM201\n" TAIL,
	    "%\nO<BUSH> (REV A)\nG0 X1. Z2.\nM201\n" TAIL);
	assert_int_equal(pair_findings(c.report)->n, 0);
	pair_help_free(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(calls_meet),
	    cmocka_unit_test(calls_in_their_block),
	    cmocka_unit_test(call_in_the_last_block),
	    cmocka_unit_test(good_calls),
	    cmocka_unit_test(no_call),
	    cmocka_unit_test(called_by_name),
	    cmocka_unit_test(named),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
