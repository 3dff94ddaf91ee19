/*
 * Goal: a call leads to the program that the control would take: by number, by name, in this file
 * or in a sister's, with the arguments that it gives; and what does not matter of all that costs
 * nothing.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"

/* Programs and calls by name; case does not matter (common practice). */
static void by_name(void **state)
{
	static const struct {
		const char *call;
		enum verdict verdict;
		unsigned missing, uncalled;
	} rows[] = {{"M98 <SUB>", VERDICT_AGREE, 0, 1}, {"M98 <sub> L1", VERDICT_AGREE, 0, 1},
	    {"G65 <SUB> A1.", VERDICT_AGREE, 0, 1}, {"M98 <SUBS>", VERDICT_CANNOT_TELL, 1, 2},
	    {"M98 <SU>", VERDICT_CANNOT_TELL, 1, 2}, {"M98 <SUB> P2", VERDICT_CANNOT_TELL, 0, 0},
	    {"M98 <SUB", VERDICT_CANNOT_TELL, 0, 0}, {"M98 P0", VERDICT_CANNOT_TELL, 1, 2}};
	char text[200];

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		snprintf(text, sizeof text,
		    "O<MAIN>\n%s\nM30\nO<SIDE>\nM202\nM99\nO<SUB>\nM201\nM99\n", rows[i].call);
		if (channels_two(&c, text, "M201\nM30\n") != rows[i].verdict ||
		    channels_seen(&c, FINDING_SUB_MISSING) != rows[i].missing ||
		    channels_seen(&c, FINDING_TEXT_AFTER_END) != rows[i].uncalled)
			fail_msg("%s: verdict %d, %u missing, %u not called", rows[i].call,
			    (int)c.result.verdict, channels_seen(&c, FINDING_SUB_MISSING),
			    channels_seen(&c, FINDING_TEXT_AFTER_END));
		if (rows[i].uncalled == 1)
			assert_non_null(strstr(c.findings.v[0].text, "O<SIDE>"));
		channels_end(&c);
	}
}

static int take(void *ctx, const struct nc_block *b)
{
	return wait_flow_block(ctx, b);
}

static struct wait_flow *read_text(struct channels *c, const char *text)
{
	struct wait_flow *f = wait_flow_new(&c->profile);
	struct nc_reader *r = nc_reader_new(take, f);
	struct nc_shape shape;

	assert_non_null(f);
	assert_non_null(r);
	assert_int_equal(nc_reader_feed(r, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
	return f;
}

/* A main program and a file of subprograms, compared with lower. */
static enum verdict with_sister(
    struct channels *c, const char *upper, const char *library, const char *lower)
{
	struct wait_flow *s, *f;

	channels_begin(c);
	s = read_text(c, library);
	assert_int_equal(wait_flow_finish(s, &c->findings, "library", -1, true), 0);
	f = read_text(c, upper);
	assert_int_equal(wait_flow_sister(f, s), 0);
	assert_int_equal(wait_flow_finish(f, &c->findings, "job.up", 0, false), 0);
	c->flow[c->n++] = f;
	channels_add(c, lower);
	channels_prove(c);
	/* it must outlive the flow: freed last */
	c->flow[c->n++] = s;
	return c->result.verdict;
}

/* Programs of another file: with their own labels, loops, calls and variables. */
static void sisters(void **state)
{
	static const struct {
		const char *upper, *library, *lower;
		enum verdict verdict;
		unsigned missing;
	} rows[] = {
	    {"O1\nM98 P20\nM30\n", "O20\nM201\nM99\n", "M201\nM30\n", VERDICT_AGREE, 0},
	    {"O1\n#1=2\nM98 P20\nM202\nM30\n",
	        "O10\nM209\nM99\nO20\nN5 M98 P30\n#1=#1-1\nIF [#1 GT 0] GOTO "
	        "5\nM99\nO30\nM201\nM99\n",
	        "M201\nM201\nM202\nM30\n", VERDICT_AGREE, 0},
	    {"O1\nN5 M98 P20 L2\nM30\n",
	        "O20\n#1=0\nWHILE [#1 LT 2] DO1\nM201\n#1=#1+1\nEND1\nM99\n",
	        "M201\nM201\nM201\nM201\nM30\n", VERDICT_AGREE, 0},
	    /* the file's own come first */
	    {"O1\nM98 P20\nM30\nO20\nM201\nM99\n", "O20\nM202\nM99\n", "M201\nM30\n", VERDICT_AGREE,
	        0},
	    /* and are there for the sister's calls, too */
	    {"O1\nM98 P20\nM30\nO30\nM201\nM99\n", "O20\nM98 P30\nM99\n", "M201\nM30\n",
	        VERDICT_AGREE, 0},
	    {"O1\nM98 P20\nM30\n", "O20\nM201\nM98 P40\nM99\n", "M201\nM30\n", VERDICT_CANNOT_TELL,
	        1},
	    {"O1\nM98 P21\nM201\nM30\n", "O20\nM98 P40\nM99\nO21\nM99\n", "M201\nM30\n",
	        VERDICT_AGREE, 0},
	    {"O1\nM98 <HELP>\nM30\n", "O<HELP>\nM98 <MORE>\nM99\nO<MORE>\nM201\nM99\n",
	        "M201\nM30\n", VERDICT_AGREE, 0},
	    {"O1\nM98 P50\nM30\n", "O20\nM201\nM99\n", "M201\nM30\n", VERDICT_CANNOT_TELL, 1},
	    {"O1\n#1=20\nM98 P#1\nM30\n", "O20\nM201\nM99\n", "M201\nM30\n", VERDICT_AGREE, 0},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;
		enum verdict v = with_sister(&c, rows[i].upper, rows[i].library, rows[i].lower);

		if (v != rows[i].verdict ||
		    channels_seen(&c, FINDING_SUB_MISSING) != rows[i].missing ||
		    c.findings.n != rows[i].missing)
			fail_msg("%s with %s: verdict %d, %u missing", rows[i].upper,
			    rows[i].library, (int)v, channels_seen(&c, FINDING_SUB_MISSING));
		channels_end(&c);
	}
}

/* Codes of a sister are none of the text, and know their file. */
static void places(void **state)
{
	struct wait_flow *s[2], *f;
	struct channels c;

	channels_begin(&c);
	for (int i = 0; i < 2; i++) {
		s[i] = read_text(&c, i ? "O30\nM202\nM99\n" : "O20\nM201\nM98 P30\nM99\n");
		if (!i)
			continue;
		/* a sister of a sister is not taken along */
		assert_int_equal(wait_flow_sister(s[0], s[1]), 0);
	}
	assert_int_equal(wait_flow_finish(s[1], &c.findings, "two", -1, true), 0);
	assert_int_equal(wait_flow_finish(s[0], &c.findings, "one", -1, true), 0);
	f = read_text(&c, "O1\nM98 P20\nM203\nM30\n");
	assert_int_equal(wait_flow_sister(f, s[0]), 0);
	assert_int_equal(wait_flow_sister(f, s[1]), 0);
	assert_int_equal(wait_flow_finish(f, &c.findings, "job.up", 0, false), 0);
	assert_int_equal(wait_flow_codes(f), 1);
	assert_int_equal(wait_flow_code(f, 0)->code, 203);
	c.flow[c.n++] = f;
	channels_add(&c, "M201\nM202\nM203\nM30\n");
	channels_prove(&c);
	assert_int_equal(c.result.verdict, VERDICT_AGREE);
	assert_int_equal(c.result.rung[0].channel[0].code->at.file, 1);
	assert_int_equal(c.result.rung[0].channel[0].code->at.line, 2);
	assert_int_equal(c.result.rung[1].channel[0].code->at.file, 2);
	assert_int_equal(c.result.rung[2].channel[0].code->at.file, 0);
	channels_end(&c);
	wait_flow_free(s[0]);
	wait_flow_free(s[1]);
}

/* There is room for sixteen. */
static void too_many_sisters(void **state)
{
	struct channels c;
	struct wait_flow *f;

	channels_begin(&c);
	channels_add(&c, "O20\nM99\n");
	f = read_text(&c, "O1\nM30\n");
	for (int i = 0; i < WAIT_SISTERS_MAX; i++)
		assert_int_equal(wait_flow_sister(f, c.flow[0]), 0);
	assert_int_equal(wait_flow_sister(f, c.flow[0]), -1);
	wait_flow_free(f);
	channels_end(&c);
}

/* Which variable each argument sets (common practice: the first kind of argument lists). */
static void arguments(void **state)
{
	static const struct {
		char letter;
		int local;
	} rows[] = {{'A', 1}, {'B', 2}, {'C', 3}, {'I', 4}, {'J', 5}, {'K', 6}, {'D', 7}, {'E', 8},
	    {'F', 9}, {'H', 11}, {'Q', 17}, {'R', 18}, {'S', 19}, {'T', 20}, {'U', 21}, {'V', 22},
	    {'W', 23}, {'X', 24}, {'Y', 25}, {'Z', 26}};
	char text[200];

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		snprintf(text, sizeof text,
		    "O1\nG65 P2 %c7.\nM30\nO2\nIF [#%d EQ 7] GOTO 5\nM202\nN5 M201\nM99\n",
		    rows[i].letter, rows[i].local);
		if (channels_two(&c, text, "M201\nM30\n") != VERDICT_AGREE)
			fail_msg("%s: verdict %d", text, (int)c.result.verdict);
		channels_end(&c);
	}
}

/*
 * A number without point counts in increments where it is a length (checked values: decimal-point
 * input types); a letter that stands twice sets other variables.
 */
static void arguments_in_doubt(void **state)
{
	static const struct {
		const char *call;
		double increment;
		enum verdict verdict;
	} rows[] = {{"G65 P2 A7", 0.001, VERDICT_CANNOT_TELL}, {"G65 P2 A7", 1, VERDICT_AGREE},
	    {"G65 P2 A7.", 0.001, VERDICT_AGREE}, {"G65 P2 A[3+4]", 0.001, VERDICT_AGREE},
	    {"G65 P2 A7. A8.", 0.001, VERDICT_CANNOT_TELL}, {"G65 P2", 0.001, VERDICT_CANNOT_TELL},
	    {"#1=7\nG65 P2", 0.001, VERDICT_CANNOT_TELL},
	    {"#3=7\nG65 P2 A#3", 0.001, VERDICT_AGREE}, {"G65 P2 A#3", 0.001, VERDICT_CANNOT_TELL},
	    {"#1=7\nM98 P2", 0.001, VERDICT_AGREE}};
	char text[200];

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		snprintf(text, sizeof text,
		    "O1\n%s\nM30\nO2\nIF [#1 EQ 7] GOTO 5\nM202\nN5 M201\nM99\n", rows[i].call);
		channels_begin(&c);
		c.profile.increment = rows[i].increment;
		channels_add(&c, text);
		channels_add(&c, "M201\nM30\n");
		channels_prove(&c);
		if (c.result.verdict != rows[i].verdict)
			fail_msg("%s: verdict %d", rows[i].call, (int)c.result.verdict);
		channels_end(&c);
	}
}

/* A called program shares its caller's variables with M98 only; what it sets matters then. */
static void shared(void **state)
{
	static const struct {
		const char *upper;
		enum verdict verdict;
	} rows[] = {
	    {"O1\n#1=1\nM98 P2\nIF [#1 EQ 2] GOTO 5\nM209\nN5 M201\nM30\nO2\n#1=2\nM99\n",
	        VERDICT_AGREE},
	    {"O1\n#1=1\nG65 P2\nIF [#1 EQ 1] GOTO 5\nM209\nN5 M201\nM30\nO2\n#1=2\nM99\n",
	        VERDICT_AGREE},
	    {"O1\n#1=1\nM98 P2\nIF [#1 EQ 1] GOTO 5\nM202\nN5 M201\nM30\nO2\n#[#1]=2\nM99\n",
	        VERDICT_DISAGREE},
	    /* through another program */
	    {"O1\n#1=1\nM98 P2\nIF [#1 EQ 2] GOTO 5\nM209\nN5 M201\nM30\nO2\n#3=1\nM98 P3\nM99\n"
	     "O3\nG0 X1.\n#1=#3+1\nM99\n",
	        VERDICT_AGREE},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		if (channels_two(&c, rows[i].upper, "M201\nM30\n") != rows[i].verdict)
			fail_msg("%s: verdict %d", rows[i].upper, (int)c.result.verdict);
		channels_end(&c);
	}
}

/* A modal call is made behind blocks that move; blocks in front of the first G66 of a file are not
 * kept, and what would need them is not followed. */
static void modal(void **state)
{
	static const struct {
		const char *upper;
		enum verdict verdict;
	} rows[] = {
	    {"O1\nX1.\nG66 P2\nX2.\nG4 P1\nG67\nX3.\nM30\nO2\nM201\nM99\n", VERDICT_AGREE},
	    {"O1\nX1.\nG66 P3\nX2.\nG67\nM201\nM30\nO2\nM202\nM99\nO3\nX1.\nM99\n", VERDICT_AGREE},
	    /* back to a block that moves and left nothing */
	    {"O1\nN5 X1.\nG66 P2\nIF [#1 EQ 1] GOTO 5\nX1.\nG67\nM30\nO2\nM201\nM99\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nG67\nG66 P2\nM98 P3\nM30\nO2\nM201\nM99\nO3\nX1.\nM99\n", VERDICT_AGREE},
	    /* the program that moves stands in front of the one with G66 */
	    {"O1\nM98 P4\nM98 P3\nM30\nO3\nX1.\nM99\nO4\nG66 P2\nM99\nO2\nM201\nM99\n",
	        VERDICT_CANNOT_TELL},
	    {"O1\nM98 P4\nM98 P3\nM30\nO4\nG66 P2\nM99\nO3\nX1.\nM99\nO2\nM201\nM99\n",
	        VERDICT_AGREE},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct channels c;

		if (channels_two(&c, rows[i].upper, "M201\nM30\n") != rows[i].verdict)
			fail_msg("%s: verdict %d", rows[i].upper, (int)c.result.verdict);
		channels_end(&c);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(by_name),
	    cmocka_unit_test(sisters),
	    cmocka_unit_test(places),
	    cmocka_unit_test(too_many_sisters),
	    cmocka_unit_test(arguments),
	    cmocka_unit_test(arguments_in_doubt),
	    cmocka_unit_test(shared),
	    cmocka_unit_test(modal),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
