/*
 * Goal: the things that go wrong for people who move programs to two-channel machines (common
 * practice) are told as what they are, with place, bytes and codes.
 */
#include <stdlib.h>
#include "pair_help.h"

#define LOWER "%\nO4417(REV C)\nG0X40.\nM30\n%\n"
#define PAIR(up, lo) "%\nO4417(REV C)\n" up "M30\n%\n", "%\nO4417(REV C)\n" lo "M30\n%\n"

static void cut_off_end(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "%\nO4417(BUSH)(REV C)\nN10 G0 X62. Z3.\nN20 G1 Z-1", LOWER);
	pair_help_text(&c, FINDING_CUT_OFF,
	    "opened with % at line 1, no closing %, no M30: file looks cut off");
	assert_non_null(strstr(
	    pair_help_find(&c, FINDING_CUT_OFF)->remedy, "line 4 is the last and has no line end"));
	assert_false(pair_may_release(c.report));
	assert_int_not_equal(pair_verdict(c.report), VERDICT_AGREE);
	/* One cause, one finding. */
	assert_int_equal(pair_help_seen(&c, FINDING_END_MISSING), 0);
	assert_false(program_complete(c.program[0]));
	pair_help_free(&c);
}

/* A file that was cut inside its last subprogram has an M30, and still is cut off. */
static void cut_off_in_a_subprogram(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "%\nO4417(REV C)\nM98P8000\nM30\nO8000\nG1X4", LOWER);
	pair_help_text(&c, FINDING_CUT_OFF,
	    "opened with % at line 1, no closing %, no end of subprogram O8000 (line 5): file "
	    "looks "
	    "cut off");
	pair_help_free(&c);
}

static void no_percent_is_a_note(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "O4417(REV C)\nG0X40.\nM30\n", LOWER);
	assert_int_equal(pair_help_find(&c, FINDING_PERCENT_MISSING)->weight, WEIGHT_NOTE);
	assert_true(pair_may_release(c.report));
	assert_true(program_complete(c.program[0]));
	pair_help_free(&c);
}

static void invisible_bytes(void **state)
{
	struct checked c = {0};

	pair_help_two(&c,
	    "\xEF\xBB\xBF%\nO4417(REV C)\n(ROUGH 30\xC2\xB0 \xE2\x80\x9CLEFT\xE2\x80\x9D)\n"
	    "g0\tx40.\nM30\n%\n",
	    LOWER);
	pair_help_text(&c, FINDING_BYTE_ORDER_MARK, "byte-order mark EF BB BF at offset 0");
	pair_help_text(&c, FINDING_CHARACTER_COMMENT,
	    "3 characters that are not plain ASCII: C2 B0 at offset 27, E2 80 9C at offset 30, "
	    "E2 80 9D at offset 37");
	assert_int_equal(pair_help_find(&c, FINDING_CHARACTER_COMMENT)->line, 3);
	pair_help_text(&c, FINDING_TAB, "1 tab, 09 at offset 44");
	assert_int_equal(pair_help_find(&c, FINDING_TAB)->line, 4);
	pair_help_text(&c, FINDING_LOWER_CASE, "2 lower-case letters, the first, 67 at offset 42");
	assert_int_equal(pair_help_find(&c, FINDING_LOWER_CASE)->line, 4);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

static void doubled_line_ends(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "%\r\r\nO4417(REV C)\r\r\nG0X40.\r\r\nM30\r\r\n%\r\r\n", LOWER);
	pair_help_text(&c, FINDING_LINE_ENDS_DOUBLED,
	    "doubled line ends, likely text-mode transfer: 5 of 5 lines end in CR CR LF");
	assert_int_equal(pair_help_seen(&c, FINDING_LINE_ENDS_MIXED), 0);
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, "%\r\n\r\nO4417(REV C)\r\n\r\nG0X40.\r\n\r\nM30\r\n\r\n%\r\n\r\n", LOWER);
	assert_int_equal(pair_help_seen(&c, FINDING_LINE_ENDS_DOUBLED), 1);
	pair_help_free(&c);
}

/* One line in ten may be whole; two may not. */
static void doubled_on_nine_lines_of_ten(void **state)
{
	static const char nine[] =
	    "%\r\r\nO4417(REV C)\r\r\nG0\r\r\nG0\r\r\nG0\r\r\nG0\r\r\nG0\r\r\n"
	    "G0\n"
	    "M30\r\r\n%\r\r\n";
	static const char eight[] = "%\r\r\nO4417(REV C)\r\r\nG0\r\r\nG0\r\r\nG0\r\r\nG0\r\r\nG0\n"
	                            "G0\n"
	                            "M30\r\r\n%\r\r\n";
	struct checked c = {0};

	pair_help_two(&c, nine, eight);
	assert_int_equal(pair_help_seen(&c, FINDING_LINE_ENDS_DOUBLED), 1);
	assert_int_equal(pair_help_find(&c, FINDING_LINE_ENDS_DOUBLED)->channel, 0);
	assert_int_equal(pair_help_find(&c, FINDING_LINE_ENDS_MIXED)->channel, 1);
	pair_help_free(&c);
}

/* % O4417 G0X40. M30 % with even parity in bit 8 (ISO 840). */
static void high_bit_garbage(void **state)
{
	struct checked c = {0};

	pair_help_two(&c,
	    "\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x47\x30\xD8\xB4\x30\x2E\x0A\x4D\x33\x30\x0A\xA5\x0A",
	    LOWER);
	pair_help_text(
	    &c, FINDING_FRAMING_7E, "every byte has even parity: framing is 7E, the port was 8N1");
	/* Nothing else is made of bytes that are no program. */
	assert_int_equal(program_findings(c.program[0])->n, 1);
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	pair_help_free(&c);
}

static void mixed_parity_is_noise(void **state)
{
	struct checked c = {0};

	pair_help_two(&c,
	    "\xA5\x0A\xCF\xB4\xB4\xB1\xB7\x0A\x47\x30\xD8\xB5\x30\x2E\x0A\x4D\x33\x30\x0A\xA5\x0A",
	    LOWER);
	assert_int_equal(pair_help_seen(&c, FINDING_FRAMING_7E), 0);
	pair_help_text(&c, FINDING_CHARACTER,
	    "9 of 21 bytes have bit 8 set, with mixed parity: noise or wrong speed");
	pair_help_free(&c);
}

static void a_wait_is_missing(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, PAIR("M201\nM202\nM203\n", "M201\nG0X1.\nM203\n"));
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	pair_help_text(&c, FINDING_WAIT_MISSING,
	    "wait 2: upper M202 (line 4), lower M203 (line 5): both stand for ever");
	const struct finding *f = pair_help_find(&c, FINDING_WAIT_MISSING);

	assert_string_equal(
	    f->remedy, "likeliest repair: add M202 to lower between line 3 and line 5");
	assert_string_equal(f->file, "J4417.LO");
	assert_string_equal(f->also_file, "J4417.UP");
	assert_int_equal(f->also_line, 4);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

static void a_wait_in_a_skipped_block(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", "%\nO4417(REV C)\nM301\n/M302\nM303\nM30\n%\n", 0},
	    {"J4417.LO", "%\nO4417(REV C)\nM301\nM302\nM303\nM30\n%\n", 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "wait", "codes", "M300-M399");
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	pair_help_text(&c, FINDING_WAIT_SKIPPED,
	    "wait 2 with block skip on: upper M303 (line 5), lower M302 (line 4): both stand for "
	    "ever");
	pair_help_free(&c);
}

/* In both programs: agrees with a common switch, with a warning; not with separate ones. */
static void a_wait_skipped_in_both(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", "%\nO4417(REV C)\nM201\n/M202\nM203\nM30\n%\n", 0},
	    {"J4417.LO", "%\nO4417(REV C)\nM201\n/M202\nM203\nM30\n%\n", 0},
	};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_help_seen(&c, FINDING_WAIT_IN_SKIPPED), 2);
	assert_int_equal(pair_help_find(&c, FINDING_WAIT_IN_SKIPPED)->weight, WEIGHT_WARN);
	assert_true(pair_may_release(c.report));
	assert_int_equal(pair_meetings(c.report), 2);
	pair_help_free(&c);
	pair_help_set(&c.profile, "wait", "skip", "separate");
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	assert_non_null(
	    strstr(pair_help_find(&c, FINDING_WAIT_SKIPPED)->remedy, "take the slash off M202"));
	pair_help_free(&c);
}

static void revisions_differ(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", "%\nO4417\n(J4417 UPPER REV D)\nM30\n%\n", 0},
	    {"J4417.LO", "%\nO4417\n(J4417 LOWER REV C)\nM30\n%\n", 0},
	    {"J4417.LO", "%\nO4417\nM30\n%\n", 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "header", "({job} {channel} REV {rev})");
	pair_help_check(&c, s, 2);
	pair_help_text(&c, FINDING_REVISION_DIFFERS, "upper is revision D, lower is revision C");
	assert_string_equal(pair_job(c.report), "J4417");
	assert_string_equal(pair_revision(c.report), "");
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
	pair_help_check(&c, (const struct source[]){s[0], s[2]}, 2);
	assert_int_equal(pair_help_find(&c, FINDING_REVISION_UNKNOWN)->channel, 1);
	assert_string_equal(pair_revision(c.report), "");
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
}

static void number_against_job(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", "%\nO4471(REV C)\nM30\n%\n", 0},
	    {"J4417.LO", "%\n:4417(REV C)\nM30\n%\n", 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "number_from_job", "yes");
	pair_help_check(&c, s, 2);
	pair_help_text(
	    &c, FINDING_NUMBER_DIFFERS, "program number is O4471, job 'J4417' asks for O4417");
	pair_help_text(&c, FINDING_NUMBER_FORM, ":4417 is written with a colon");
	pair_help_free(&c);
	pair_help_set(&c.profile, "limits", "number_colon", "yes");
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_help_seen(&c, FINDING_NUMBER_FORM), 0);
	assert_int_equal(program_number(c.program[1]), 4417);
	pair_help_free(&c);
}

static void comment_rules(void **state)
{
	struct checked c = {0};
	const char *lower = "%\nO4417(REV C)\nM30\n%\n";

	pair_help_two(&c,
	    "%\nO4417(REV C)\nN50 (BORE (2 OF 3) SIZE) M204\nN60 (CHECK GAUGE M205\n"
	    "N70 (M206 MOVED)\nM30\n%\n",
	    lower);
	assert_int_equal(pair_help_find(&c, FINDING_COMMENT_NESTED)->line, 3);
	assert_int_equal(pair_help_find(&c, FINDING_COMMENT_OPEN)->line, 4);
	assert_int_equal(pair_help_seen(&c, FINDING_WAIT_UNCERTAIN), 2);
	pair_help_text(&c, FINDING_WAIT_UNCERTAIN,
	    "M204 after a broken comment: whether it counts is uncertain");
	pair_help_text(&c, FINDING_WAIT_UNCERTAIN,
	    "M205 inside a comment that is not closed: whether it counts is uncertain");
	assert_int_equal(pair_verdict(c.report), VERDICT_CANNOT_TELL);
	assert_false(pair_may_release(c.report));
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, "%\nO4417(REV C)\nN70 (M206 MOVED)\nM30\n%\n", lower);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_meetings(c.report), 0);
	pair_help_free(&c);
}

static void leader_and_trailer(void **state)
{
	static const char text[] = "%\r\nO4417(REV C)\r\nG0X40.\r\nM30\r\n%\r\n";
	static const char damaged[] = "%\r\nO4417(REV C)\r\nG0X4\0"
	                              "0.\r\nM30\r\n%\r\n";
	char raw[120 + sizeof(text) - 1 + 160];
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", raw, sizeof(raw)}, {"J4417.LO", damaged, sizeof(damaged) - 1}};

	memset(raw, 0, sizeof(raw));
	memcpy(raw + 120, text, sizeof(text) - 1);
	for (size_t i = 120 + sizeof(text); i < sizeof(raw); i += 2)
		raw[i] = 0x7f;
	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	assert_int_equal(program_findings(c.program[0])->n, 0);
	pair_help_text(
	    &c, FINDING_NUL_INSIDE, "1 NUL byte inside the program, 00 at offset 21: damaged");
	pair_help_free(&c);
}

static void swapped_order(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, PAIR("M201\nM202\n", "M202\nM201\n"));
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	pair_help_text(&c, FINDING_WAIT_SWAPPED,
	    "wait 1: upper M201 (line 3), lower M202 (line 3): both stand for ever");
	pair_help_free(&c);
}

/*
 * CSP (Hoare, Communicating Sequential Processes), 2.2, example X2: (foolish customer)||(machine)
 * passes in2p or stops; as wait codes: one pass, then a deadlock at wait 2. X1 is its partner
 * without deadlock.
 */
static void csp_examples(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, PAIR("M201\nM202\n", "M201\nM203\n"));
	assert_int_equal(pair_verdict(c.report), VERDICT_DISAGREE);
	assert_int_equal(pair_meetings(c.report), 1);
	pair_help_free(&c);
	c = (struct checked){0};
	pair_help_two(&c, PAIR("M201\nM202\nM201\nM202\n", "M201\nM202\nM201\nM202\n"));
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_meetings(c.report), 4);
	pair_help_free(&c);
}

/*
 * The first worked example of a two-process lathe control's manual: one wait code in each, the
 * program ends behind it: sequences [100] and [100] pass.
 */
static void one_meeting_before_the_end(void **state)
{
	struct checked c = {0};
	const struct source s[] = {
	    {"J4417.UP", "%\nO4417(REV C)\nN5 M100\nN6 M30\n%\n", 0},
	    {"J4417.LO", "%\nO4417(REV C)\nN2 M100\nN3 G32 Z-10. F1.\nN7 M30\n%\n", 0},
	};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "wait", "codes", "M100-M197");
	pair_help_check(&c, s, 2);
	assert_int_equal(pair_verdict(c.report), VERDICT_AGREE);
	assert_int_equal(pair_findings(c.report)->n, 0);
	assert_int_equal(pair_meetings(c.report), 1);
	pair_help_free(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(cut_off_end),
	    cmocka_unit_test(cut_off_in_a_subprogram),
	    cmocka_unit_test(no_percent_is_a_note),
	    cmocka_unit_test(invisible_bytes),
	    cmocka_unit_test(doubled_line_ends),
	    cmocka_unit_test(doubled_on_nine_lines_of_ten),
	    cmocka_unit_test(high_bit_garbage),
	    cmocka_unit_test(mixed_parity_is_noise),
	    cmocka_unit_test(a_wait_is_missing),
	    cmocka_unit_test(a_wait_in_a_skipped_block),
	    cmocka_unit_test(a_wait_skipped_in_both),
	    cmocka_unit_test(revisions_differ),
	    cmocka_unit_test(number_against_job),
	    cmocka_unit_test(comment_rules),
	    cmocka_unit_test(leader_and_trailer),
	    cmocka_unit_test(swapped_order),
	    cmocka_unit_test(csp_examples),
	    cmocka_unit_test(one_meeting_before_the_end),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
