/*
 * Goal: text that was damaged, or that one control reads in another way than the next, is not
 * called agreement; and text that only looks odd is left alone.
 */
#include <stdlib.h>
#include "pair_help.h"

#define HEAD "%\nO4417(REV C)\n"
#define TAIL "M30\n%\n"
#define PLAIN HEAD "G0X41.\nM201\n" TAIL

struct row {
	const char *upper;
	enum finding_id id;
	uint32_t seen;
	enum verdict verdict;
};

/* Each against PLAIN. */
static void walk(const struct row *row, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		struct checked c = {0};
		uint32_t seen;
		enum verdict v;

		pair_help_two(&c, row[i].upper, PLAIN);
		seen = pair_help_seen(&c, row[i].id);
		v = pair_verdict(c.report);
		pair_help_free(&c);
		if (seen != row[i].seen || v != row[i].verdict)
			fail_msg("%s: %s %u, verdict %s", row[i].upper, finding_name(row[i].id),
			    (unsigned)seen, pair_verdict_name(v));
	}
}

#define WALK(rows) walk(rows, sizeof(rows) / sizeof(*(rows)))

/* N20 in the middle of a block: a line end was lost, and the pair agreed. */
static void a_lost_line_end(void **state)
{
	static const struct row rows[] = {
	    {HEAD "N10 G0 X1.N20 Z2.\nM201\n" TAIL, FINDING_WORD_BAD, 1, VERDICT_CANNOT_TELL},
	    {"%\nO4417N10 G0 X1.(REV C)\nM201\n" TAIL, FINDING_WORD_BAD, 1, VERDICT_CANNOT_TELL},
	    {HEAD "G0 X1. Z2. X3.\nM201\n" TAIL, FINDING_WORD_DOUBLED, 1, VERDICT_AGREE},
	    {HEAD "/N10 G0 X1.\nN20 /2 Z2.\nM201\n" TAIL, FINDING_WORD_BAD, 0, VERDICT_AGREE},
	    {HEAD "G0 G40 X1. M3 M8\nM201\n" TAIL, FINDING_WORD_DOUBLED, 0, VERDICT_AGREE},
	    {HEAD "G1 X1. C90. ,C0.5 R2. ,R1.\nM201\n" TAIL, FINDING_WORD_DOUBLED, 0,
	        VERDICT_AGREE},
	    /* arguments: I, J, K as often as wanted (common practice) */
	    {HEAD "G65 P8 I1. J1. I2. J2.\nM201\nM30\nO8\nM99\n%\n", FINDING_WORD_DOUBLED, 0,
	        VERDICT_AGREE},
	    {HEAD "G66.1 P8 I1. J1. I2. J2.\nG67\nM201\nM30\nO8\nM99\n%\n", FINDING_WORD_DOUBLED, 0,
	        VERDICT_AGREE},
	};

	WALK(rows);
}

/*
 * A lone CR among LFs was a line end like any other, with a note. A control that passes over CR
 * reads (or skips behind a ;) two lines as one.
 */
static void a_lone_carriage_return(void **state)
{
	static const struct row rows[] = {
	    {HEAD "G0 X1.\rG1 X2.\nM201\n" TAIL, FINDING_CHARACTER, 1, VERDICT_CANNOT_TELL},
	    {HEAD ";NOTE\rM201\n" TAIL, FINDING_CHARACTER, 1, VERDICT_CANNOT_TELL},
	    {"%\rO4417(REV C)\rG0 X1.\rM201\rM30\r%\r", FINDING_CHARACTER, 0, VERDICT_AGREE},
	    /* LF CR CR, as one control family punches; and a file whose very last byte was lost */
	    {"%\n\r\rO4417(REV C)\n\r\rM201\n\r\rM30\n\r\r%\n\r\r", FINDING_CHARACTER, 0,
	        VERDICT_AGREE},
	    {"%\r\nO4417(REV C)\r\nM201\r\nM30\r\n%\r", FINDING_CHARACTER, 0, VERDICT_AGREE},
	};

	WALK(rows);
}

/* m201 was M201 with a warning, on a machine that is not known to take lower case. */
static void a_wait_code_in_lower_case(void **state)
{
	static const struct row rows[] = {
	    {HEAD "m201\n" TAIL, FINDING_WAIT_UNCERTAIN, 1, VERDICT_CANNOT_TELL},
	    {HEAD "g0x1.\nM201\n" TAIL, FINDING_WAIT_UNCERTAIN, 0, VERDICT_AGREE},
	};
	struct checked c = {0};
	const struct source s[] = {{"J4417.UP", rows[0].upper, 0}, {"J4417.LO", PLAIN, 0}};

	WALK(rows);
	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "limits", "lower_case", "yes");
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_findings(c.report)->n, 0);
	pair_help_free(&c);
}

/* "X1.;M202": a comment here, the next block there. */
static void a_wait_code_behind_a_semicolon(void **state)
{
	static const struct row rows[] = {
	    {HEAD "G0 X1.;M202\nM201\n" TAIL, FINDING_WAIT_UNCERTAIN, 1, VERDICT_CANNOT_TELL},
	    {HEAD "G0 X1. (A;B) ; N20 M202;\nM201\n" TAIL, FINDING_WAIT_UNCERTAIN, 1,
	        VERDICT_CANNOT_TELL},
	    {HEAD "G0 X1. ; BACK OFF BEFORE M202\nM201\n" TAIL, FINDING_WAIT_UNCERTAIN, 0,
	        VERDICT_AGREE},
	    {HEAD "; M202\nM201;\nG0 X1.;\n" TAIL, FINDING_WAIT_UNCERTAIN, 0, VERDICT_AGREE},
	    {HEAD "G0 X1. (NOT ; M202)\nM201 ; M3\n" TAIL, FINDING_WAIT_UNCERTAIN, 0,
	        VERDICT_AGREE},
	    {HEAD "G0 X1.;M20 2 MM\nM201\n" TAIL, FINDING_WAIT_UNCERTAIN, 0, VERDICT_AGREE},
	};

	WALK(rows);
}

/* The program's name behind % was read as a block: %M201 was a meeting, %J4417 a length without
 * point. */
static void a_name_behind_percent(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "%J4417\nO4417(REV C)\nM201\nM30\n%\n", PLAIN);
	assert_int_equal(pair_findings(c.report)->n, 0);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, "%M201\nO4417(REV C)\nM30\n%\n", PLAIN);
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, "%O4417 M201 (REV C)\nM30\n%\n", PLAIN);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	pair_help_free(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_lost_line_end),
	    cmocka_unit_test(a_lone_carriage_return),
	    cmocka_unit_test(a_wait_code_in_lower_case),
	    cmocka_unit_test(a_wait_code_behind_a_semicolon),
	    cmocka_unit_test(a_name_behind_percent),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
