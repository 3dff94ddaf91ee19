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
	    {HEAD "#1=0N20 G0 X1.\nM201\n" TAIL, FINDING_WORD_BAD, 1, VERDICT_CANNOT_TELL},
	    {HEAD "N10 #1=0\n(#)N20 #2=1\nM201\n" TAIL, FINDING_WORD_BAD, 0, VERDICT_AGREE},
	    {HEAD "N101.\nM201\n" TAIL, FINDING_SEQUENCE, 1, VERDICT_AGREE},
	    {HEAD "M 2 0 1\n" TAIL, FINDING_NUMBER_GAP, 1, VERDICT_AGREE},
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

struct header_row {
	const char *text; /* of J4417-C.upper.nc */
	enum finding_id id;
	uint32_t seen;
};

/*
 * Two headers that contradict each other: the first was taken and the second never looked at, also
 * far down where another program was pasted in. And a header that lacks a word or has one too many
 * was no header at all: the file's name alone said C, whatever the header said.
 */
static void headers_that_contradict(void **state)
{
	static const struct header_row rows[] = {
	    {"(JOB J4417 REV C UPPER)\n(JOB J4417 REV D UPPER)\n", FINDING_REVISION_DIFFERS, 1},
	    {"(JOB J4417 REV C UPPER)(JOB J5020 REV C UPPER)\n", FINDING_JOB_DIFFERS, 1},
	    {"(JOB J4417 REV C UPPER)\nG0 X1.\n(JOB J4417 REV C LOWER)\n", FINDING_CHANNEL_DIFFERS,
	        1},
	    {"G0 X1.\n(JOB J4417 REV D UPPER)\n", FINDING_REVISION_DIFFERS, 1},
	    {"(JOB J4417 REV C UPPER)\nG0 X1.\n(job: j4417, rev: c, up)\n",
	        FINDING_REVISION_DIFFERS, 0},
	    {"(JOB J4417 REV C UPPER)\nG0 X1.\n(job: j4417, rev: c, up)\n", FINDING_CHANNEL_DIFFERS,
	        0},
	    {"(JOB J4417 REV D)\n", FINDING_HEADER_UNREAD, 1},
	    {"(JOB J4417 REV UPPER)\n", FINDING_HEADER_UNREAD, 1},
	    {"(J4417 REV D UPPER)\n", FINDING_HEADER_UNREAD, 1},
	    {"(JOB J4417 REV C UPPER BUSH)\n", FINDING_HEADER_UNREAD, 1},
	    {"(REVISED MAY)(BUSH, GUIDE)\n(JOBS AS BEFORE)\n", FINDING_HEADER_UNREAD, 0},
	    {"(LAST JOB: BUSH)\n(JOB J4417 REV C UPPER)\n", FINDING_HEADER_UNREAD, 0},
	    {"G0 X1.\n(REV LIMIT 3000)\n", FINDING_HEADER_UNREAD, 0},
	};

	for (size_t i = 0; i < sizeof(rows) / sizeof(*rows); i++) {
		struct checked c = {0};
		char text[200] = "%\nO4417\n";
		const struct source s = {"J4417-C.upper.nc", text, 0};
		uint32_t seen;

		strcat(strcat(text, rows[i].text), "M201\nM30\n%\n");
		profile_defaults(&c.profile);
		pair_help_check(&c, &s, 1);
		seen = pair_help_seen(&c, rows[i].id);
		pair_help_free(&c);
		if (seen != rows[i].seen)
			fail_msg(
			    "%s: %s %u", rows[i].text, finding_name(rows[i].id), (unsigned)seen);
	}
}

/* A pattern without a word of its own matches any remark: remarks do not contradict the header. */
static void remarks_are_no_headers(void **state)
{
	struct checked c = {0};
	const struct source s = {
	    "x", "%\nO4417\n(J4417 C)\n(ROUGH TURN)\nG0 X1.\n(BORE LEFT)\nM30\n%\n", 0};

	profile_defaults(&c.profile);
	pair_help_set(&c.profile, "programs", "header", "({job} {rev})");
	pair_help_check(&c, &s, 1);
	assert_int_equal(pair_help_seen(&c, FINDING_JOB_DIFFERS), 0);
	assert_int_equal(pair_help_seen(&c, FINDING_HEADER_UNREAD), 0);
	assert_string_equal(pair_job(c.report), "J4417");
	pair_help_free(&c);
}

/*
 * Where the header does not name the channel, a program that is saved under both names agreed with
 * itself and was released.
 */
static void one_program_under_two_names(void **state)
{
	static const char same[] = HEAD "G0X41.\nM201\n" TAIL;
	static const char ends[] = "%\r\nO4417(REV C)\r\nG0X41.\r\nM201\r\nM30\r\n%\r\n";
	struct checked c = {0};

	pair_help_two(&c, same, ends);
	pair_help_text(
	    &c, FINDING_CHANNEL_SAME, "upper and lower hold the same text, block for block");
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, HEAD "G0X14.\nM201\n" TAIL, HEAD "G0X41.\nM201\n" TAIL);
	assert_int_equal(pair_help_seen(&c, FINDING_CHANNEL_SAME), 0);
	pair_help_free(&c);
	/* nothing but waiting in both is no mistake */
	c = (struct checked){0};
	pair_help_two(&c, HEAD "M201\n" TAIL, HEAD "M201\n" TAIL);
	assert_int_equal(pair_help_seen(&c, FINDING_CHANNEL_SAME), 0);
	pair_help_free(&c);
}

/* "Remove the % or what follows it" was the advice where a line stood before the first %. */
static void text_before_the_first_percent(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "TRANSFER 12\n%\nO4417(REV C)\nM201\nM30\n%\n", PLAIN);
	assert_non_null(strstr(
	    pair_help_find(&c, FINDING_PERCENT_MIDDLE)->remedy, "remove what stands before it"));
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, "%\nO4417(REV C)\nM201\n%\nM30\n%\n", PLAIN);
	assert_non_null(
	    strstr(pair_help_find(&c, FINDING_PERCENT_MIDDLE)->remedy, "or what follows it"));
	pair_help_free(&c);
}

/* With wait codes of another range, "agree: 0 meetings" was all that was said. */
static void codes_of_another_machine(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, HEAD "G0X1.\nM101\n" TAIL, HEAD "G0X2.\nM102\n" TAIL);
	pair_help_text(&c, FINDING_WAIT_NONE,
	    "no wait code in any program of the pair; looked for: M200-M299");
	pair_help_free(&c);
	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "wait", "codes", "M100, M150-M197");
	pair_help_check(&c,
	    (const struct source[]){{"J4417.UP", HEAD "G0X1.\n" TAIL, 0}, {"J4417.LO", PLAIN, 0}},
	    2);
	pair_help_text(&c, FINDING_WAIT_NONE,
	    "no wait code in any program of the pair; looked for: M100, M150-M197");
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
	    cmocka_unit_test(headers_that_contradict),
	    cmocka_unit_test(remarks_are_no_headers),
	    cmocka_unit_test(one_program_under_two_names),
	    cmocka_unit_test(text_before_the_first_percent),
	    cmocka_unit_test(codes_of_another_machine),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
