/*
 * Goal: a trace hands out the blocks of a program in the order in which a control executes them,
 * each with the values that its words have then, and stands at exactly the wait codes at which the
 * walk stands. Expected lists are written by hand from the rules of NISTIR 6556 and of
 * subprograms, loops and jumps (common practice).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "channels.h"
#include "trace.h"

/* What a trace shows: line numbers of blocks, *CODE, and the end: . END @ ROUND ? LOST. With
 * values, also a block's words. */
static char shown[65536];
static size_t shown_n;

static void __attribute__((format(printf, 1, 2))) show(const char *format, ...)
{
	va_list ap;
	int n;

	va_start(ap, format);
	n = vsnprintf(shown + shown_n, sizeof(shown) - shown_n, format, ap);
	va_end(ap);
	assert_true(n >= 0 && (size_t)n < sizeof(shown) - shown_n);
	shown_n += (size_t)n;
}

static void show_words(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];
		long long unit = 1;

		for (unsigned s = 0; s < w->scale; s++)
			unit *= 10;
		if (w->flags & NC_COMPUTED)
			show("%c?", w->letter);
		else
			show("%c%g%s", w->letter, (double)w->mantissa / (double)unit,
			    w->flags & NC_POINT ? "." : "");
	}
}

/* Take one step; false after the last. */
static bool show_step(struct trace *t, bool values)
{
	struct trace_step step;

	assert_int_equal(trace_next(t, &step), 0);
	if (shown_n && step.kind <= TRACE_STOP)
		show(" ");
	switch (step.kind) {
	case TRACE_BLOCK:
		show("%s%llu", step.file ? step.file : "", (unsigned long long)step.block->line);
		if (values && step.block->words)
			show(":");
		if (values)
			show_words(step.block);
		return true;
	case TRACE_STOP:
		assert_non_null(step.code);
		show("*%u", step.code->code);
		return true;
	case TRACE_LOST:
		assert_non_null(step.why);
		show(" ?");
		break;
	default:
		show(step.kind == TRACE_END ? " ." : " @");
		break;
	}
	return false;
}

/* Trace channel 0 under switches on, conditions on unknown data taken as in choices. */
static const char *traced(
    const struct channels *c, const char *text, uint32_t on, const char *choices, bool values)
{
	uint8_t choice[64];
	struct wait_run run = {.on = on, .choice = choice, .choices = strlen(choices)};
	struct trace *t;
	struct trace_step step;
	enum trace_kind last;

	for (size_t i = 0; i < run.choices; i++)
		choice[i] = choices[i] == '1';
	t = trace_new(c->flow[0], text, strlen(text), &run);
	assert_non_null(t);
	shown_n = 0;
	while (show_step(t, values))
		;
	/* the answer stays */
	assert_int_equal(trace_next(t, &step), 0);
	last = step.kind;
	assert_int_equal(trace_next(t, &step), 0);
	assert_true(last == step.kind && last >= TRACE_END);
	trace_free(t);
	return shown;
}

static void is(const char *text, uint32_t on, const char *choices, bool values, const char *want)
{
	struct channels c;

	channels_begin(&c);
	channels_add(&c, text);
	assert_string_equal(traced(&c, text, on, choices, values), want);
	channels_end(&c);
}

static void runs(const char *text, const char *want)
{
	is(text, 0, "", false, want);
}

static void test_straight(void **state)
{
	runs("%\nO1\nG0 X1.\nM201\nX2.\n(NOTE)\n\nM30\n%\nX9.\n", "1 2 3 4 *201 5 6 7 8 .");
	runs("O1\r\nX1.\r\nM201\r\nM30", "1 2 3 *201 4 .");
	/* it runs out: up to the next program, the second %, the end of the file */
	runs("O1\nM201\nX1.\nO2\nX2.\nM99\n", "1 2 *201 3 .");
	runs("%\nO1\nM201\nX1.\n%\nX2.\n", "1 2 3 *201 4 .");
	runs("(HEAD)\n%\nO1\nM201\nX1.", "1 2 3 4 *201 5 .");
	/* nothing behind the end */
	runs("O1\nM30\nX1.\nM201\n", "1 2 .");
}

static void test_calls(void **state)
{
	runs("O1\nM98 P2 L2\nX1.\nM30\nO2\nX2.\nM201\nX3.\nM99\nX4.\n",
	    "1 2 5 6 7 *201 8 9 5 6 7 *201 8 9 3 4 .");
	runs("O1\nM98 P2\nM202\nM30\nO2\nM98 P3\nX1.\nM99\nO3\nM201\nM99\n",
	    "1 2 5 6 9 10 *201 11 7 8 3 *202 4 .");
	/* to a label of the caller */
	runs("O1\nM98 P2\nX1.\nN7 X2.\nM201\nM30\nO2\nX3.\nM99 P7\n", "1 2 7 8 9 4 5 *201 6 .");
	/* a program without a wait code is executed, too */
	runs("O1\nM98 P2\nM201\nM30\nO2\nX3.\nM99\n", "1 2 5 6 7 3 *201 4 .");
}

static void test_loops(void **state)
{
	runs("O1\n#1=0\nWHILE [#1 LT 2] DO1\nX1.\nM201\n#1=#1+1\nEND1\nX2.\nM30\n",
	    "1 2 3 4 5 *201 6 7 3 4 5 *201 6 7 3 8 9 .");
	/* from the loop's end its END is not executed again */
	runs("O1\n#1=2\nWHILE [#1 LT 2] DO1\nX1.\nEND1\nM201\nM30\n", "1 2 3 6 *201 7 .");
	/* nested */
	runs("O1\n#1=0\nWHILE[#1LT2]DO1\n#2=0\nWHILE[#2LT1]DO2\nM201\n#2=#2+1\nEND2\n#1=#1+1\n"
	     "END1\nM30\n",
	    "1 2 3 4 5 6 *201 7 8 5 9 10 3 4 5 6 *201 7 8 5 9 10 3 11 .");
	/* a counted jump back over blocks without any meaning to the flow */
	runs("O1\n#1=0\nX0.\nN10 X1.\nX2.\n#1=#1+1\nIF [#1 LT 3] GOTO 10\nM201\nM30\n",
	    "1 2 3 4 5 6 7 4 5 6 7 4 5 6 7 8 *201 9 .");
}

static void test_jumps(void **state)
{
	runs("O1\nGOTO 20\nX1.\nN10 X2.\nN20 X3.\nM201\nM30\n", "1 2 5 6 *201 7 .");
	runs("O1\nX1.\nGOTO 20\nM202\nN5 X2.\nN20\nN30 M201\nM30\n", "1 2 3 6 7 *201 8 .");
	runs("O1\n#1=30\nGOTO #1\nM202\nN20 X2.\nN30 M201\nM30\n", "1 2 3 6 *201 7 .");
	/* at the block of an instruction, and behind the last one */
	runs("O1\nGOTO 20\nN10 M202\nN20 M201\nM30\n", "1 2 4 *201 5 .");
	runs("O1\nM201\nGOTO 20\nX1.\nN20 X2.\n", "1 2 *201 3 5 .");
	/* IF: a condition that is false goes on; THEN is passed over */
	runs("O1\n#1=1\nIF [#1 EQ 2] GOTO 9\nM201\nN9 M30\n", "1 2 3 4 *201 5 .");
	is("O1\n#1=1\nIF [#1 EQ 1] THEN #2=5.\nIF [#1 EQ 2] THEN #2=6.\nX#2\nM201\nM30\n", 0, "",
	    true, "1:O1 2 3 4 5:X5. 6:M201 *201 7:M30 .");
	/* conditions on data that the program does not hold: as the run took them */
	is("O1\nIF [#100 EQ 1] GOTO 9\nM201\nN9 M202\nM30\n", 0, "1", false, "1 2 4 *202 5 .");
	is("O1\nIF [#100 EQ 1] GOTO 9\nM201\nN9 M202\nM30\n", 0, "0", false,
	    "1 2 3 *201 4 *202 5 .");
	is("O1\nIF [#100 EQ 1] GOTO 9\nM201\nN9 M202\nM30\n", 0, "", false, "1 2 ?");
}

static void test_skip(void **state)
{
	const char *text = "O1\n/X1.\n/2 X2.\n/M201\nM202\n/2 M98 P2\nM30\nO2\n/M203\nX3.\nM99\n";

	is(text, 0, "", false, "1 2 3 4 *201 5 *202 6 8 9 *203 10 11 7 .");
	is(text, 1 << 1, "", false, "1 3 5 *202 6 8 10 11 7 .");
	is(text, 1 << 2, "", false, "1 2 4 *201 5 *202 7 .");
	is(text, 1 << 1 | 1 << 2, "", false, "1 5 *202 7 .");
}

static void test_values(void **state)
{
	/* NISTIR 6556, 3.3.3: settings act when the whole line was read */
	is("O1\n#3=15\n#3=6 G1 X#3\nX#3\nM30\n", 0, "", true, "1:O1 2 3:G1X15. 4:X6. 5:M30 .");
	/* 3.3.2.2 and 3.3.2.3 */
	is("O1\n#1=2.\n#2=0.375\nX#1 Y[##1*2] Z-[#1+1]\nX#100 Y1\nX[1/3]\nM30\n", 0, "", true,
	    "1:O1 2 3 4:X2.Y0.75.Z-3. 5:X?Y1 6:X0.333333. 7:M30 .");
	/* a counter, as the loop goes on */
	is("O1\n#1=0\nN1 X#1\n#1=#1+0.5\nIF[#1LE1]GOTO1\nM201\nM30\n", 0, "", true,
	    "1:O1 2 3:N1X0. 4 5 3:N1X0.5. 4 5 3:N1X1. 4 5 6:M201 *201 7:M30 .");
	/* arguments of macros: A and X are #1 and #24 (common practice); the caller's stay */
	is("O1\n#1=7\nG65 P2 A1.5 X-2.\nX#1\nM30\nO2\nX#1 Z#24 Y#2\n#1=0\nM201\nM99\n", 0, "", true,
	    "1:O1 2 3:G65P2A1.5.X-2. 6:O2 7:X1.5.Z-2.Y? 8 9:M201 *201 10:M99 4:X7. 5:M30 .");
	/* a subprogram shares them (common practice) */
	is("O1\n#1=7\nM98 P2\nX#1\nM30\nO2\n#1=8\nM99\n", 0, "", true,
	    "1:O1 2 3:M98P2 6:O2 7 8:M99 4:X8. 5:M30 .");
}

/* G66: the call is made behind each block that moves, until G67 (common practice). */
static void test_modal(void **state)
{
	runs("O1\nG66 P2 A1.\nX1.\nM8\nX2.\nG67\nX3.\nM30\nO2\nM201\nX9.\nM99\n",
	    "1 2 3 9 10 *201 11 12 4 5 9 10 *201 11 12 6 7 8 .");
}

static void test_ends(void **state)
{
	struct channels c;
	const char *text = "O1\nM201\nX1.\nM99\n";

	runs(text, "1 2 *201 3 4 ?");
	channels_begin(&c);
	c.profile.end_m99 = true;
	channels_add(&c, text);
	assert_string_equal(traced(&c, text, 0, "", false), "1 2 *201 3 4 @");
	channels_end(&c);
	/* a program that is not there, and a loop without an end */
	runs("O1\nX1.\nM98 P7\nM201\nM30\n", "1 2 3 ?");
	runs("O1\nM201\nN1 X1.\nGOTO 1\nM202\nM30\n", "1 2 *201 3 4 3 4 ?");
}

static int take(void *ctx, const struct nc_block *b)
{
	return wait_flow_block(ctx, b);
}

static struct wait_flow *flow_of(struct channels *c, const char *text)
{
	struct wait_flow *f = wait_flow_new(&c->profile);
	struct nc_reader *r = nc_reader_new(take, f);
	struct nc_shape shape;

	assert_true(f && r);
	assert_int_equal(nc_reader_feed(r, text, strlen(text)), 0);
	assert_int_equal(nc_reader_finish(r, &shape), 0);
	nc_reader_free(r);
	return f;
}

static void test_sisters(void **state)
{
	const char *own = "O1\nM98 P5\nX1.\nM30\n";
	const char *library = "O4\nX4.\nM99\nO5\nX5.\nM201\nM99\nO6\nX6.\nM99\n";
	struct wait_run run = {.on = 0};
	struct wait_flow *f, *sister;
	struct channels c;
	struct trace *t;

	channels_begin(&c);
	sister = flow_of(&c, library);
	f = flow_of(&c, own);
	assert_int_equal(wait_flow_finish(sister, &c.findings, "library", 0, true), 0);
	assert_int_equal(wait_flow_sister(f, sister), 0);
	assert_int_equal(wait_flow_finish(f, &c.findings, "own", 0, false), 0);
	for (int with = 0; with < 2; with++) {
		t = trace_new(f, own, strlen(own), &run);
		assert_non_null(t);
		if (with)
			assert_int_equal(
			    trace_sister(t, 1, library, strlen(library), "library"), 0);
		shown_n = 0;
		while (show_step(t, false))
			;
		trace_free(t);
		assert_string_equal(shown,
		    with ? "1 2 library4 library5 library6 *201 library7 3 4 ." : "1 2 *201 3 4 .");
	}
	wait_flow_free(f);
	wait_flow_free(sister);
	channels_end(&c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_straight),
	    cmocka_unit_test(test_calls),
	    cmocka_unit_test(test_loops),
	    cmocka_unit_test(test_jumps),
	    cmocka_unit_test(test_skip),
	    cmocka_unit_test(test_values),
	    cmocka_unit_test(test_modal),
	    cmocka_unit_test(test_ends),
	    cmocka_unit_test(test_sisters),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
