/*
 * Goal: variables, expressions and control flow are passed over whole, marked, and what stands
 * around them is read. Expressions are those of NISTIR 6556, 3.3.2.2 to 3.3.3 and its appendix C.2;
 * keywords are common practice.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "dump.h"

static uint32_t flags;

static int take(void *ctx, const struct nc_block *b)
{
	flags = b->flags;
	return 0;
}

static void expect(const char *line, const char *words, uint32_t want)
{
	struct nc_reader *r = nc_reader_new(take, NULL);
	struct nc_shape s;

	assert_int_equal(nc_reader_feed(r, line, strlen(line)), 0);
	assert_int_equal(nc_reader_finish(r, &s), 0);
	nc_reader_free(r);
	if (strcmp(dump_words(line), words) != 0 || dump_faults(line)[0] || flags != want)
		print_message("in: %s\n", line);
	assert_string_equal(dump_words(line), words);
	assert_string_equal(dump_faults(line), "");
	assert_int_equal(flags, want);
}

static void values(void **state)
{
	expect("G1 X#1 Y-#2 Z##3", "G1 X* Y* Z*", NC_MACRO);
	expect("X[1 + 2 * 3 - 4 / 5] F200", "X* F200", NC_MACRO);
	expect("X[[1+2]*[3-[4]]]Y1.", "X* Y1.", NC_MACRO);
	expect("X#[1+2] Y5", "X* Y5", NC_MACRO);
	expect("XSIN[30] Y1.", "X* Y1.", NC_MACRO);
	expect("X ATAN[1.7321]/[1.0] Y2.", "X* Y2.", NC_MACRO);
	expect("X ROUND[-0.499]", "X*", NC_MACRO);
	expect("X SQRT[3**2 + 4**2] Z4.", "X* Z4.", NC_MACRO);
	expect("X[2 + ASIN[1/2.1+-0.345] / [ATAN[FIX[4.4] * 2.1 * SQRT[16.8]] /[-18]]**2]", "X*",
	    NC_MACRO);
	expect("M[200+#1]", "M*", NC_MACRO);
}

static void settings(void **state)
{
	expect("#3=6 G1 X#3", "G1 X*", NC_MACRO);
	expect("#3=15 #3=6", "", NC_MACRO);
	expect("#[#1+1]=-[#2*2]", "", NC_MACRO);
	expect("##1 = 0.375", "", NC_MACRO);
	expect("#1=#2+3*SIN[#4] (X)", "", NC_MACRO);
	expect("N10 #100=#5041/2 ; X", "N10", NC_MACRO);
	expect("#1=#2 MOD 3 X1.", "X1.", NC_MACRO);
	expect("#1= - . 5 X1.", "X1.", NC_MACRO);
	expect("/2 #1=1", "", NC_MACRO);
}

static void jumps(void **state)
{
	expect("N10 IF [#1 EQ 2] GOTO 100", "N10", NC_MACRO | NC_JUMP);
	expect("IF[#1EQ2]GOTO100", "", NC_MACRO | NC_JUMP);
	expect("IF [#1 GT [2+#3]] THEN #4=5", "", NC_MACRO | NC_JUMP);
	expect("IF [#1 EQ 2] THEN M203", "M203", NC_MACRO | NC_JUMP);
	expect("WHILE [#1 LT 3] DO1", "", NC_MACRO | NC_JUMP);
	expect("END1", "", NC_MACRO | NC_JUMP);
	expect("GOTO #7", "", NC_MACRO | NC_JUMP);
	expect("GOTO[#7*10]", "", NC_MACRO | NC_JUMP);
	/* a keyword in a comment is none */
	expect("G0 (GOTO 5) X1. ;IF", "G0 X1.", 0);
}

static void lower_case(void **state)
{
	assert_string_equal(dump_words("if [#1 eq 2] goto 100"), "");
	assert_string_equal(dump_faults("if [#1 eq 2] goto 100"), "lower@1x8");
	assert_string_equal(dump_faults("xsin[30]"), "lower@1x4");
	assert_string_equal(dump_words("xsin[30]"), "X*");
}

/* Brackets that do not close, settings without a value: told, and the line is left. */
static void broken(void **state)
{
	assert_string_equal(dump_faults("X[1+2"), "word@2x1");
	assert_string_equal(dump_faults("#1=[2"), "word@4x1");
	assert_string_equal(dump_faults("#1="), "word@3x1");
	assert_string_equal(dump_faults("#1 X1."), "word@1x1");
	assert_string_equal(dump_faults("X#"), "word@2x1");
	assert_string_equal(dump_faults("#1=1.2.3"), "number@4x1");
	assert_string_equal(dump_faults("X[#1@]"), "character@5x1");
	assert_string_equal(dump_faults("X[1)]"), "word@4x1");
}

/* Damage inside brackets, and jumps that lack a part: each was passed over without a word. */
static void damaged(void **state)
{
	static const char *const line[] = {"IF [#X00 LT 5] GOTO 50", "IF [#100 T 5] GOTO 50",
	    "IF [9#100 GT 0] GOTO 50", "IF [#500 EQ :1] GOTO 50", "IF [#100 LT .] GOTO 50",
	    "IF [#500 /EQ 1] GOTO 50", "IF [M#100 LT 5] GOTO 50", "IF [#100 G6T 0] GOTO 50",
	    "IF [] GOTO 50", "IF [#1 EQ] GOTO 50", "IF [#1 #2] GOTO 50", "IF [#1 EQ 1.2.3] GOTO 50",
	    "X[1 2*]", "X[*2]", "X[SIN 30]", "X[SON[30]]", "X[#]", "X[[1][2]]", "IF GOTO 50",
	    "IF [#1 EQ 1]", "IF [#1 EQ 1] (GOTO 50)", "IF [#1 EQ 1] G0 X1.", "WHILE [#1 EQ 1]",
	    "WHILE DO1", "GOTO", "DO", "END", "GOTO X", "IF [#1 EQ 1] GOTO 10#500=1", "GOTO 10 N20",
	    "END1 G0", "WHILE [#1 EQ 1] DO1 X1."};

	for (size_t i = 0; i < sizeof(line) / sizeof(*line); i++)
		if (!strstr(dump_faults(line[i]), "word@"))
			fail_msg("%s: %s", line[i], dump_faults(line[i]));
}

/* Whole ones, as people write them. */
static void whole(void **state)
{
	static const char *const line[] = {"IF[[#1EQ1]AND[#2NE#0]]GOTO5", "IF [#1EQABS[#2]] GOTO 5",
	    "X[#1MOD2]", "X[ATAN[#1,#2]]", "X[#1*-1]", "X[-[#2]]", "X[##1+#[#2]]",
	    "IF [#1 GE 1 2.5] THEN #2 = 1", "WHILE[1]DO 2", "WHILE [#1 LT #2] DO1 (X)", "X[ 1 ]",
	    "IF [#1 EQ 1] THEN", "ELSE", "ENDIF", "GOTO 5 (X)", "X[FIX[#1/10.]*10]", "X[2**3]",
	    "X[#1XOR#2OR#3]", "IF [NOT[#1 EQ 1] AND NOT [#2]] GOTO 5", "#1=NOT[#2]"};

	for (size_t i = 0; i < sizeof(line) / sizeof(*line); i++)
		if (dump_faults(line[i])[0])
			fail_msg("%s: %s", line[i], dump_faults(line[i]));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(values),
	    cmocka_unit_test(settings),
	    cmocka_unit_test(jumps),
	    cmocka_unit_test(lower_case),
	    cmocka_unit_test(broken),
	    cmocka_unit_test(damaged),
	    cmocka_unit_test(whole),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
