/*
 * Goal: a program says who it is by name and header, as people write them; numbers, points and
 * words are judged as the profile says; and how the bytes are cut into chunks never matters.
 */
#include <stdio.h>
#include <stdlib.h>
#include "pair_help.h"

struct who {
	const char *file, *text, *job, *revision;
	int channel;
};

static void identity(void **state)
{
	static const struct who who[] = {
	    {"J4417-C.upper.nc", "%\nO1\nM30\n%\n", "J4417", "C", 0},
	    {"/share/L1/j4417-c.LO.NC", "%\nO1\nM30\n%\n", "J4417", "C", 1},
	    {"x.nc", "%\nO1\n(JOB J4417 REV C UPPER)\nM30\n%\n", "J4417", "C", 0},
	    {"x.nc", "%\nO1(BUSH)(Job: j4417, Rev: c, lower)\nM30\n%\n", "J4417", "C", 1},
	    {"x.nc", "%\nO1\nG21\n;JOB J4417 REV C LWR\nM30\n%\n", "J4417", "C", 1},
	    /* Behind the first motion a comment is no header. */
	    {"x.nc", "%\nO1\nG0X1.\n(JOB J4417 REV C UPPER)\nM30\n%\n", "", "", -1},
	    {"x.nc", "%\nO1\n(JOB J4417 REV C MIDDLE)\nM30\n%\n", "J4417", "C", -1},
	    {"x.nc", "%\nO1\n(JOB J44*17 REV C UPPER)\nM30\n%\n", "", "C", 0},
	    {"J4417-C.upper.nc", "%\nO1\n(JOB J4417 REV D LOWER)\nM30\n%\n", "J4417", "D", -1},
	    {"", "", "", "", -1},
	};
	struct profile p;

	profile_defaults(&p);
	for (size_t i = 0; i < sizeof(who) / sizeof(*who); i++) {
		struct source s = {who[i].file, who[i].text, 0};
		struct program *program = pair_help_program(&p, &s);

		if (strcmp(program_job(program), who[i].job) != 0 ||
		    strcmp(program_revision(program), who[i].revision) != 0 ||
		    program_channel(program) != who[i].channel)
			fail_msg("%s: job '%s' revision '%s' channel %d", who[i].text,
			    program_job(program), program_revision(program),
			    program_channel(program));
		program_free(program);
	}
}

static void header_is_looked_for_in_twenty_blocks(void **state)
{
	struct profile p;

	profile_defaults(&p);
	for (int before = 18; before <= 20; before++) {
		char text[1000] = "%\n";

		for (int i = 1; i < before; i++)
			strcat(text, "(NOTE)\n");
		strcat(text, "(JOB J4417 REV C UPPER)\nM30\n%\n");
		struct source s = {"x", text, 0};
		struct program *program = pair_help_program(&p, &s);

		assert_string_equal(program_job(program), before < 20 ? "J4417" : "");
		program_free(program);
	}
}

/* What a value may not hold is told with what it was, and never used. */
static void odd_values_are_told(void **state)
{
	static const char longest[] =
	    "A123456789B123456789C123456789D123456789E123456789F123456789G1234-C.upper.nc";
	struct checked c = {0};
	const struct source s[] = {
	    {"J44 17-C.upper.nc", "%\nO1\nM30\n%\n", 0}, {longest, "%\nO1\nM30\n%\n", 0}};

	profile_defaults(&c.profile);
	pair_help_check(&c, s, 2);
	pair_help_text(&c, FINDING_JOB_UNKNOWN,
	    "file name gives job 'J44 17'; allowed are up to 64 letters, digits and _ - + . #");
	assert_int_equal(pair_help_seen(&c, FINDING_JOB_UNKNOWN), 2);
	assert_string_equal(program_job(c.program[1]), "");
	pair_help_free(&c);
}

struct number {
	const char *first;
	uint32_t number;
	bool form, missing;
};

/* O0417, O417: as controls with four digits punch them; the rest is flagged (common practice). */
static void number_forms(void **state)
{
	static const struct number number[] = {
	    {"O417", 417, false, false},
	    {"O0417", 417, false, false},
	    {"O00417", 417, true, false},
	    {":417", 417, true, false},
	    {"0417", 417, true, false},
	    {"OO417", 417, true, false},
	    {"O4O7", 407, true, false},
	    {"N1 O417", 417, false, false},
	    {"/O417", 417, true, false},
	    {"(BUSH)\nO417", 417, false, false},
	    {"%O417(BUSH)", 417, false, false},
	    {"G21\nO417", 0, false, true},
	    {"G21", 0, false, true},
	};
	struct profile p;

	pair_help_profile(&p);
	for (size_t i = 0; i < sizeof(number) / sizeof(*number); i++) {
		char text[100];
		struct source s = {"J4417.UP", text, 0};

		snprintf(text, sizeof(text), "%s%s\nM30\n%%\n",
		    *number[i].first == '%' ? "" : "%\n", number[i].first);
		struct program *program = pair_help_program(&p, &s);
		const uint32_t *seen = program_findings(program)->seen;

		if (program_number(program) != number[i].number ||
		    (seen[FINDING_NUMBER_FORM] > 0) != number[i].form ||
		    (seen[FINDING_NUMBER_MISSING] > 0) != number[i].missing)
			fail_msg(
			    "%s: number %u", number[i].first, (unsigned)program_number(program));
		program_free(program);
	}
}

static void number_in_the_name(void **state)
{
	struct checked c = {0};
	const struct source s[] = {{"O4417.UP", "%\nO4417(REV C)\nM30\n%\n", 0},
	    {"O4418.LO", "%\nO4417(REV C)\nM30\n%\n", 0}};

	pair_help_profile(&c.profile);
	pair_help_set(&c.profile, "programs", "names", "O{number}.{channel}");
	pair_help_check(&c, s, 2);
	pair_help_text(&c, FINDING_NUMBER_DIFFERS,
	    "program number is O4417, the file name's number '4418' asks for O4418");
	assert_int_equal(pair_help_seen(&c, FINDING_NUMBER_DIFFERS), 1);
	pair_help_free(&c);
}

/* M203 typed as M2O3 reads as M2, the program end, and O3: that is told. */
static void letter_o_inside_a_block(void **state)
{
	struct checked c = {0};

	pair_help_two(&c, "%\nO4417(REV C)\nM2O3\nM30\n%\n", "%\nO4417(REV C)\nM203\nM30\n%\n");
	pair_help_text(&c, FINDING_WORD_BAD, "letter O or colon inside the block");
	assert_int_not_equal(pair_verdict(c.report), VERDICT_AGREE);
	pair_help_free(&c);
}

struct block_point {
	const char *block;
	uint32_t found;
};

/*
 * Decimal-point input type I of a common control family's manual: X1 is 0.001 mm and X1. is 1 mm.
 * Which words are lengths or angles: ISO 6983-1; K and R as counts in cycles, F: common practice.
 */
static void points(void **state)
{
	static const struct block_point block[] = {
	    {"G1 X40", 1},
	    {"G1 X40.", 0},
	    {"G1 X40.0 Z-3", 1},
	    {"G1 X0 Z0", 0},
	    {"G1 X-1 Y1 Z1", 3},
	    {"G1 U1 V1 W1", 3},
	    {"G2 I1 J1 K1 R1", 4},
	    {"G1 A90 B90 C90", 3},
	    {"T0101 S2000 M3", 0},
	    {"G4 P500", 0},
	    {"G1 F200", 0},
	    {"G94 G1 F200", 0},
	    {"G95 G1 F1", 1},
	    {"G95 F0.2", 0},
	    {"G83 Z-10. R2. K3", 0},
	    {"G73 U10. R3", 0},
	    {"G65 P9000 X1", 0},
	    {"G1 X#100", 0},
	    {"G1 X[1+2]", 0},
	    {"N10 M98 P8000 L2 H3 D4 E5 Q6", 0},
	    {"G1 Z10. ,C1", 1},
	};
	struct profile p;

	pair_help_profile(&p);
	for (size_t i = 0; i < sizeof(block) / sizeof(*block); i++) {
		char text[100];
		struct source s = {"J4417.UP", text, 0};

		snprintf(text, sizeof(text), "%%\nO4417\n%s\nM30\n%%\n", block[i].block);
		struct program *program = pair_help_program(&p, &s);

		if (program_findings(program)->seen[FINDING_POINT_MISSING] != block[i].found)
			fail_msg("%s", block[i].block);
		program_free(program);
	}
}

static void points_can_be_left_to_the_control(void **state)
{
	struct profile p;
	struct source s = {"J4417.UP", "%\nO4417(REV C)\nG1X1\nM30\n%\n", 0};

	pair_help_profile(&p);
	pair_help_set(&p, "limits", "point", "no");
	pair_help_set(&p, "limits", "lower_case", "yes");
	struct program *program = pair_help_program(&p, &s);

	assert_int_equal(program_findings(program)->n, 0);
	program_free(program);
}

/* G95 stays on until G94. */
static void feed_per_turn_is_modal(void **state)
{
	struct profile p;
	struct source s = {"J4417.UP", "%\nO4417(REV C)\nG95\nF1\nG94\nF200\nM30\n%\n", 0};

	pair_help_profile(&p);
	struct program *program = pair_help_program(&p, &s);

	assert_int_equal(program_findings(program)->seen[FINDING_POINT_MISSING], 1);
	assert_int_equal(program_findings(program)->v[0].line, 4);
	program_free(program);
}

static void many_of_a_kind_are_counted(void **state)
{
	struct profile p;
	struct text t = {0};

	pair_help_profile(&p);
	text_puts(&t, "%\nO4417(REV C)\n");
	for (int i = 0; i < 1000; i++)
		text_puts(&t, "G1X1\n");
	text_puts(&t, "M30\n%\n");
	struct source s = {"J4417.UP", t.s, t.n};
	struct program *program = pair_help_program(&p, &s);
	const struct findings *f = program_findings(program);
	struct text out = {0};

	assert_int_equal(f->seen[FINDING_POINT_MISSING], 1000);
	assert_true(f->n < 100);
	pair_print_findings(f, &out);
	char more[60];

	snprintf(more, sizeof(more), "and %u more [point-missing]\n", 1000 - (unsigned)f->n);
	assert_non_null(strstr(out.s, more));
	text_free(&out);
	text_free(&t);
	program_free(program);
}

static void forbidden_words(void **state)
{
	static const char *const has[] = {
	    "M6", "M06", "N1 M006", "T0101", "G43.4", "G43.40", "G41"};
	static const char *const has_not[] = {"M60", "M16", "G43", "G43.5", "G41.1", "(M06 T1)"};
	struct profile p;

	pair_help_profile(&p);
	pair_help_set(&p, "channel lower", "forbid", "M06, T, G43.4, G41");
	for (size_t i = 0; i < 7 + 6; i++) {
		const char *block = i < 7 ? has[i] : has_not[i - 7];
		char text[100];
		struct source s = {"J4417.LO", text, 0};

		snprintf(text, sizeof(text), "%%\nO4417\n%s\nM30\n%%\n", block);
		struct program *program = pair_help_program(&p, &s);

		if (program_findings(program)->seen[FINDING_WORD_FORBIDDEN] != (i < 7))
			fail_msg("%s", block);
		program_free(program);
	}
}

/* Alarm blocks behind the end that a jump reaches are no text after the end. */
static void blocks_behind_the_end(void **state)
{
	struct profile p;
	struct source jump = {
	    "J4417.UP", "%\nO4417(REV C)\nIF[#5EQ1]GOTO900\nM30\nN900\n#3000=1(ALARM)\n%\n", 0};
	struct source skipped = {"J4417.UP", "%\nO4417(REV C)\n/M30\nG0X1.\nM30\n%\n", 0};

	pair_help_profile(&p);
	struct program *a = pair_help_program(&p, &jump), *b = pair_help_program(&p, &skipped);

	assert_int_equal(program_findings(a)->seen[FINDING_TEXT_AFTER_END], 0);
	assert_int_equal(program_findings(b)->seen[FINDING_TEXT_AFTER_END], 0);
	program_free(a);
	program_free(b);
}

static void m99_may_end_a_main_program(void **state)
{
	struct profile p;
	struct source s = {"J4417.UP", "%\nO4417(REV C)\nG0X1.\nM99\n%\n", 0};

	pair_help_profile(&p);
	struct program *a = pair_help_program(&p, &s);

	assert_int_equal(program_findings(a)->seen[FINDING_END_MISSING], 1);
	program_free(a);
	pair_help_set(&p, "limits", "end_m99", "yes");
	a = pair_help_program(&p, &s);
	assert_int_equal(program_findings(a)->seen[FINDING_END_MISSING], 0);
	program_free(a);
}

static void wait_last_in_the_file(void **state)
{
	struct profile p;
	struct source s = {"J4417.UP", "%\nO4417(REV C)\nM201\n(END)\n%\n", 0};

	pair_help_profile(&p);
	struct program *a = pair_help_program(&p, &s);

	assert_int_equal(program_findings(a)->seen[FINDING_WAIT_LAST_BLOCK], 1);
	program_free(a);
}

static void size_and_blocks(void **state)
{
	struct profile p;
	struct source s = {"J4417.UP", "%\nO4417(REV C)\n\n(NOTE)\nG0X1.\nM30\n%\n", 0};

	pair_help_profile(&p);
	struct program *a = pair_help_program(&p, &s);

	assert_int_equal(program_size(a), strlen(s.bytes));
	assert_true(program_blocks(a) >= 3);
	assert_true(program_complete(a));
	assert_int_equal(program_finish(a), 0);
	program_free(a);
	program_free(NULL);
}

/* Byte by byte, or at once: the same findings. */
static void chunks_do_not_matter(void **state)
{
	static const char text[] = "\xEF\xBB\xBF%\r\nO4471(REV D)\r\ng1\tX1 (A (B) "
	                           "M204\r\n(30\xC2\xB0\r\nN100000M201M30\r\nX";
	struct profile p;
	struct source s = {"J4417.UP", text, 0};
	struct text once = {0}, slow = {0};

	pair_help_profile(&p);
	struct program *a = pair_help_program(&p, &s), *b = program_new(&p, s.file);

	assert_non_null(b);
	for (size_t i = 0; i < sizeof(text) - 1; i++)
		assert_int_equal(program_feed(b, text + i, 1), 0);
	assert_int_equal(program_finish(b), 0);
	pair_print_findings(program_findings(a), &once);
	pair_print_findings(program_findings(b), &slow);
	assert_string_equal(once.s, slow.s);
	assert_true(program_findings(a)->n > 8);
	text_free(&once);
	text_free(&slow);
	program_free(a);
	program_free(b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(identity),
	    cmocka_unit_test(header_is_looked_for_in_twenty_blocks),
	    cmocka_unit_test(odd_values_are_told),
	    cmocka_unit_test(number_forms),
	    cmocka_unit_test(number_in_the_name),
	    cmocka_unit_test(letter_o_inside_a_block),
	    cmocka_unit_test(points),
	    cmocka_unit_test(points_can_be_left_to_the_control),
	    cmocka_unit_test(feed_per_turn_is_modal),
	    cmocka_unit_test(many_of_a_kind_are_counted),
	    cmocka_unit_test(forbidden_words),
	    cmocka_unit_test(blocks_behind_the_end),
	    cmocka_unit_test(m99_may_end_a_main_program),
	    cmocka_unit_test(wait_last_in_the_file),
	    cmocka_unit_test(size_and_blocks),
	    cmocka_unit_test(chunks_do_not_matter),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
