/*
 * Goal: the setup sheet of a pair says what stands in its programs as they are executed, with its
 * place, and counts what it cannot know. Each sheet is written out by hand beside its program.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include "pair_help.h"
#include "yoke/setup.h"

/* A pair, its texts and its sheet. */
struct sheet {
	struct checked c;
	struct setup *s;
};

static const char mate[] = "%\nO4417 (REV A)\nM201\nM30\n%\n";

static void make(struct sheet *t, const char *upper, const char *lower)
{
	const struct source s[] = {{"J4417.UP", upper, 0}, {"J4417.LO", lower, 0}};

	pair_help_check(&t->c, s, 2);
	program_lend(t->c.program[0], upper, strlen(upper));
	program_lend(t->c.program[1], lower, strlen(lower));
	t->s = setup_new(t->c.report);
	assert_non_null(t->s);
}

/* The sheet of one program beside a mate that only waits; lower: the turning channel. */
static const struct setup_channel *one(struct sheet *t, bool lower, const char *text)
{
	pair_help_profile(&t->c.profile);
	make(t, lower ? mate : text, lower ? text : mate);
	return &t->s->channel[lower];
}

static void done(struct sheet *t)
{
	setup_free(t->s);
	pair_help_free(&t->c);
}

static void near(double got, double want)
{
	if (!(fabs(got - want) < 1e-9))
		fail_msg("%.12g instead of %.12g", got, want);
}

static void extent_is(const struct setup_work *w, int axis, double low, uint64_t low_line,
    double high, uint64_t high_line)
{
	const struct setup_extent *e = &w->axis[axis];

	assert_true(e->seen);
	near(e->low, low);
	near(e->high, high);
	assert_int_equal(e->low_at.line, low_line);
	assert_int_equal(e->high_at.line, high_line);
}

/* Tools in the order of use, each once; T0101 is tool 1 with offset 1 and T0300 takes none (common
 * practice). What for: the block's own comment, the one before, the one behind; neither the header
 * nor the program's title. */
static void test_tools(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, true,
	    "%\nO4417 (TITLE)\n(REV A)\nT0101\n(FACE)\nG99 G1 X0. F.2\nT0100\n"
	    "(GROOVE )\nN70 T0303\nG1 X1. F.1\n(DEBURR)\nG0 X9.\nT0111 ( CHAMFER)\nG1 X2.\n"
	    "T0303 (GROOVE)\nT[#500]\nM201\nM30\n%\n");

	assert_int_equal(c->tools, 3);
	assert_int_equal(c->tool[0].number, 1);
	assert_int_equal(c->tool[0].changes, 2);
	assert_int_equal(c->tool[0].first.line, 4);
	assert_int_equal(c->tool[0].offsets, 2);
	assert_int_equal(c->tool[0].offset[0].number, 1);
	assert_int_equal(c->tool[0].offset[1].number, 11);
	assert_int_equal(c->tool[0].comments, 2);
	assert_string_equal(c->tool[0].comment[0], "FACE");
	assert_string_equal(c->tool[0].comment[1], "CHAMFER");
	assert_int_equal(c->tool[1].number, 3);
	assert_int_equal(c->tool[1].first.sequence, 70);
	assert_int_equal(c->tool[1].changes, 2);
	assert_int_equal(c->tool[1].comments, 1);
	assert_string_equal(c->tool[1].comment[0], "GROOVE");
	assert_false(c->tool[2].known);
	done(&t);
}

/*
 * The story: a milling program with T words and no M06 had a sheet that said no tool was called.
 * T1 gives way to T2; T3 is named twice and comes; T9 still waits at the end.
 */
static void test_tools_that_wait(void **state)
{
	struct sheet t;
	const struct setup_channel *c =
	    one(&t, false, "%\nO4417 (REV A)\nT1\nT2\nM6\nT3\nT3 M6\nT9\nM201\nM30\n%\n");

	assert_int_equal(c->tools, 2);
	assert_int_equal(c->tools_waiting, 2);
	assert_int_equal(c->tool_waiting.line, 3);
	done(&t);
	c = one(&t, true, "%\nO4417 (REV A)\nT0101\nT0202\nM201\nM30\n%\n");
	assert_int_equal(c->tools_waiting, 0);
	done(&t);
}

/* Where T names the tool alone it comes with M06, and H and D are its offsets (NISTIR 6556, 3.6.3
 * and 3.5.9). */
static void test_spindle_tools(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, false,
	    "%\nO4417 (REV A)\nT5\nM6 (DRILL)\nG90 G43 H5 Z1.\nT7\nG1 Z0. F100\nM6\n(MILL)\n"
	    "G43 H17 Z2.\nG41 D27 X1.\nM201\nM30\n%\n");

	assert_int_equal(c->tools, 2);
	assert_int_equal(c->tool[0].number, 5);
	assert_int_equal(c->tool[0].first.line, 4);
	assert_int_equal(c->tool[0].offsets, 1);
	assert_int_equal(c->tool[0].offset[0].letter, 'H');
	assert_string_equal(c->tool[0].comment[0], "DRILL");
	assert_int_equal(c->tool[1].number, 7);
	assert_int_equal(c->tool[1].offsets, 2);
	assert_int_equal(c->tool[1].offset[1].letter, 'D');
	assert_int_equal(c->tool[1].offset[1].number, 27);
	assert_string_equal(c->tool[1].comment[0], "MILL");
	done(&t);
}

/* End points by work offset; X of a lathe as a radius here. Moves before any work offset stand
 * apart; G54.1 P3 is one of its own (common practice). */
static void test_travel(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, true,
	    "%\nO4417 (REV A)\nG0 X100. Z5.\nG54\nX50. Z2.\nG1 Z-30.\nU4. W-1.\nG54.1 P3\nX8.\n"
	    "G54\nG0 X20.\nG28 U0. W0.\nG0 X#500\nM201\nM30\n%\n");

	assert_int_equal(c->works, 3);
	assert_int_equal(c->work[0].code, -1);
	extent_is(&c->work[0], 0, 50, 3, 50, 3);
	assert_int_equal(c->work[1].code, 540);
	assert_int_equal(c->work[1].first.line, 4);
	extent_is(&c->work[1], 0, 10, 11, 27, 7);
	extent_is(&c->work[1], 2, -31, 7, 2, 5);
	assert_int_equal(c->work[2].code, 541);
	assert_true(c->work[2].p_known);
	assert_int_equal(c->work[2].p, 3);
	extent_is(&c->work[2], 0, 4, 9, 4, 9);
	assert_int_equal(c->references, 1);
	assert_int_equal(c->moves_unknown, 1);
	assert_int_equal(c->move_unknown.line, 13);
	done(&t);
}

/*
 * NISTIR 6556, 3.5.3: G17 G2 X10 Y16 I3 J4 from X7 Y7 has its centre at X10 Y11 and radius 5: from
 * 233 degrees clockwise to 90 it crosses X5 at 180. A full circle of radius 10 about X20 Y0 reaches
 * X10..X30, Y-10..Y10.
 */
static void test_quadrants(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, false,
	    "%\nO4417 (REV A)\nG90 G17 G94 F100 G55\nG0 X7. Y7.\nG2 X10. Y16. I3. J4.\nG56\n"
	    "G0 X30. Y0.\nG3 I-10. J0.\nM201\nM30\n%\n");

	assert_int_equal(c->works, 2);
	extent_is(&c->work[0], 0, 5, 5, 10, 5);
	extent_is(&c->work[0], 1, 7, 4, 16, 5);
	extent_is(&c->work[1], 0, 10, 8, 30, 7);
	extent_is(&c->work[1], 1, -10, 8, 10, 8);
	assert_int_equal(c->moves_unknown, 0);
	done(&t);
}

/* Inches are 25.4 mm; a drilling cycle goes to R and to its bottom (NISTIR 6556, 3.5.16). */
static void test_inches_and_holes(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, false,
	    "%\nO4417 (REV A)\nG20 G90 G17 G54\nG0 X1. Y2. Z3.\nG98 G81 X4. Y5. Z1.5 R2.8 F10.\n"
	    "G80\nM201\nM30\n%\n");

	extent_is(&c->work[0], 0, 25.4, 4, 101.6, 5);
	extent_is(&c->work[0], 2, 38.1, 5, 76.2, 4);
	assert_int_equal(c->moves_unknown, 0);
	done(&t);
}

/*
 * The contour of G71 is cut, the program passes it over (common practice): from X40 Z-20 the arc of
 * radius 10 ends at X60 Z-30. A threading cycle's X and Z are its end (common practice).
 */
static void test_cycles(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, true,
	    "%\nO4417 (REV A)\nG99 G18 G54 T0101\nG0 X102. Z2.\nG71 U2. R.5\n"
	    "G71 P100 Q130 U.4 W.1 F.25\nN100 G0 X40.\nG1 Z-20.\nG2 X60. Z-30. R10.\nN130 G1 "
	    "X102.\n"
	    "G0 Z4.\nG76 P010060 Q100 R.05\nG76 X27.4 Z-50. P1300 Q300 F2.\nM201\nM30\n%\n");

	extent_is(&c->work[0], 0, 13.7, 13, 51, 4);
	extent_is(&c->work[0], 2, -50, 13, 4, 11);
	assert_int_equal(c->cycles, 4);
	assert_int_equal(c->cycle.line, 5);
	done(&t);
}

/* The highest S under G97, under G96 and as a clamp; G96 before any clamp is told. A foot is
 * 0.3048 m. */
static void test_speeds(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, true,
	    "%\nO4417 (REV A)\nG97 S800 M3\nG96 S150\nG50 S2500\nG96 S220\nG50 S2000\nG97 S1200\n"
	    "S900\nS#1\nM201\nM30\n%\n");

	near(c->speed.v, 1200);
	assert_int_equal(c->speed.at.line, 8);
	near(c->surface.v, 220);
	near(c->clamp.v, 2500);
	assert_int_equal(c->clamp.at.line, 5);
	assert_true(c->unclamped.seen);
	assert_int_equal(c->unclamped.at.line, 4);
	assert_int_equal(c->speeds_unknown, 1);
	done(&t);
	c = one(&t, true, "%\nO4417 (REV A)\nG20\nG50 S3000\nG96 S500 M3\nM201\nM30\n%\n");
	near(c->surface.v, 152.4);
	assert_false(c->unclamped.seen || c->speed.seen);
	done(&t);
}

static const struct setup_code *code(const struct setup_channel *c, uint32_t number)
{
	for (size_t i = 0; i < c->codes; i++)
		if (c->code[i].code == number)
			return &c->code[i];
	return NULL;
}

/* M codes by number with the machine's own meaning first; wait codes are none of them. Standard
 * meanings: ISO 6983-1, M19, M98 and M99 common practice. */
static void test_codes(void **state)
{
	struct sheet t;
	const struct setup_channel *c;

	pair_help_profile(&t.c.profile);
	t.c.profile.code[t.c.profile.codes++] =
	    (struct profile_code){10, "clamping", "main chuck closed"};
	t.c.profile.code[t.c.profile.codes++] =
	    (struct profile_code){8, "coolant", "through the tool"};
	make(&t, "%\nO4417 (REV A)\nM10\nM8\nM3\nM63\nM19\nM63\nM201\nM30\n%\n", mate);
	c = &t.s->channel[0];
	assert_int_equal(c->codes, 6);
	for (size_t i = 1; i < c->codes; i++)
		assert_true(c->code[i - 1].code < c->code[i].code);
	assert_string_equal(code(c, 10)->text, "main chuck closed");
	assert_true(code(c, 10)->of_machine);
	assert_string_equal(code(c, 8)->text, "through the tool");
	assert_string_equal(code(c, 3)->group, "spindle");
	assert_non_null(strstr(code(c, 19)->text, "oriented"));
	assert_string_equal(code(c, 63)->text, "");
	assert_int_equal(code(c, 63)->times, 2);
	assert_int_equal(code(c, 63)->last.line, 8);
	assert_null(code(c, 201));
	assert_int_equal(c->waits, 1);
	done(&t);
}

/* Stops with the comment in, before or behind their block; switches by level. */
static void test_stops_and_switches(void **state)
{
	struct sheet t;
	const struct setup_channel *c = one(&t, false,
	    "%\nO4417 (REV A)\n(MEASURE)\nM0\nM98 P10 L3\n/2 M1 (CHIPS)\n/M0\n(TURN THE PART)\n"
	    "/ G4 P1\nM201\nM30\nO10\nM1\nM99\n%\n");

	assert_int_equal(c->stops, 4);
	assert_false(c->stop[0].optional);
	assert_int_equal(c->stop[0].at.line, 4);
	assert_string_equal(c->stop[0].comment, "MEASURE");
	assert_true(c->stop[1].optional);
	assert_int_equal(c->stop[1].at.line, 13);
	assert_int_equal(c->stop[1].times, 3);
	assert_int_equal(c->stop[2].skip, 2);
	assert_string_equal(c->stop[2].comment, "CHIPS");
	assert_int_equal(c->stop[3].skip, 1);
	assert_string_equal(c->stop[3].comment, "TURN THE PART");
	assert_int_equal(c->skip[1].blocks, 2);
	assert_int_equal(c->skip[1].first.line, 7);
	assert_int_equal(c->skip[2].blocks, 1);
	done(&t);
}

/* Programs of the text and of its calls. P30010 is O0010 three times where numbers have four digits
 * (common practice). */
static void test_programs(void **state)
{
	struct sheet t;
	const struct setup_channel *c;

	pair_help_profile(&t.c.profile);
	pair_help_set(&t.c.profile, "programs", "resident", "O9000-O9999");
	make(&t,
	    "%\nO4417 (REV A)\nM98 P30010\nN5 M98 P10\nG65 P9010 A1.\nM201\nM30\nO10\nM63\nM99\n"
	    "O11\nM99\n%\n",
	    mate);
	c = &t.s->channel[0];
	assert_int_equal(c->numbers, 4);
	assert_int_equal(c->number[0].kind, SETUP_NUMBER_MAIN);
	assert_int_equal(c->number[0].number, 4417);
	assert_int_equal(c->number[1].kind, SETUP_NUMBER_HERE);
	assert_int_equal(c->number[1].number, 10);
	assert_int_equal(c->number[1].at.line, 8);
	assert_int_equal(c->number[1].calls, 2);
	assert_int_equal(c->number[1].called.line, 3);
	assert_int_equal(c->number[2].calls, 0);
	assert_int_equal(c->number[3].kind, SETUP_NUMBER_RESIDENT);
	assert_int_equal(c->number[3].number, 9010);
	assert_int_equal(c->number[3].called.line, 5);
	assert_int_equal(c->not_entered, 1);
	assert_int_equal(code(c, 63)->times, 4);
	done(&t);
}

/* What is not followed is said so; so is a mate that is missing. */
static void test_not_whole(void **state)
{
	struct sheet t;
	const struct setup_channel *c =
	    one(&t, false, "%\nO4417 (REV A)\nM10\nN20 M98 P8888\nM11\nM201\nM30\n%\n");
	const struct source s[] = {{"J4417.UP", mate, 0}};

	assert_int_equal(c->end, SETUP_LOST);
	assert_non_null(c->why);
	assert_int_equal(c->lost_at.line, 4);
	assert_non_null(code(c, 10));
	assert_null(code(c, 11));
	assert_int_equal(c->number[1].kind, SETUP_NUMBER_MISSING);
	assert_int_equal(t.s->channel[1].end, SETUP_WHOLE);
	done(&t);

	pair_help_profile(&t.c.profile);
	pair_help_check(&t.c, s, 1);
	t.s = setup_new(t.c.report);
	assert_non_null(t.s);
	assert_int_equal(t.s->channel[0].end, SETUP_UNREAD); /* its text was not lent */
	assert_false(t.s->channel[1].present);
	done(&t);
}

/* Lists end, and say how much is missing. */
static void test_bounds(void **state)
{
	struct text text = {0};
	struct sheet t;
	const struct setup_channel *c;

	text_puts(&text, "%\nO4417 (REV A)\n");
	for (int i = 1; i <= 300; i++)
		text_printf(&text, "T%d\nM6\nM0\nM%d\nG54.1 P%d\nM98 P10\n", i, i + 300, i);
	text_puts(&text, "M201\nM30\nO10\nM99\n%\n");
	assert_false(text.failed);
	c = one(&t, false, text.s);
	assert_int_equal(c->tools, SETUP_TOOLS_MAX);
	assert_int_equal(c->tools_more, 300 - SETUP_TOOLS_MAX);
	assert_int_equal(c->works, SETUP_WORKS_MAX);
	assert_int_equal(c->works_more, 300 - SETUP_WORKS_MAX);
	assert_int_equal(c->stops, SETUP_STOPS_MAX);
	assert_int_equal(c->stops_more, 300 - SETUP_STOPS_MAX);
	assert_int_equal(c->codes, SETUP_CODES_MAX);
	assert_true(c->codes_more > 0);
	assert_int_equal(c->number[1].calls, 300);
	done(&t);
	text_free(&text);
}

static char *print(const struct setup *s, unsigned width)
{
	struct text out = {0};
	char *p;

	setup_print(s, width, &out);
	p = text_take(&out);
	assert_non_null(p);
	return p;
}

/* The part of a channel, word by word. */
static void test_whole(void **state)
{
	static const char want[] =
	    "Channel lower: J4417.LO\n"
	    "-----------------------\n"
	    "\n"
	    "Blocks executed: 8; wait codes met: 1.\n"
	    "\n"
	    "Tools, in the order of their first use\n"
	    "Tool  Offset  First used   Changes  What for\n"
	    "----  ------  -----------  -------  --------\n"
	    "T1    1       N10, line 4  1        FACE\n"
	    "\n"
	    "Travel, mm or degrees\n"
	    "Work offset  Axis        Lowest  at      Highest  at\n"
	    "-----------  ----------  ------  ------  -------  ------\n"
	    "G54          X diameter  -1.6    line 7  60       line 6\n"
	    "G54          Z           0       line 6  0        line 6\n"
	    "\n"
	    "Highest speeds\n"
	    "- Speed: 900 1/min (line 5)\n"
	    "\n"
	    "Spindle and clamping\n"
	    "Code  Times  First   Meaning\n"
	    "----  -----  ------  ------------------------------\n"
	    "M03   1      line 5  spindle: spindle on, clockwise\n"
	    "M10   1      line 5  clamping: main chuck closed\n"
	    "\n"
	    "Other miscellaneous codes\n"
	    "Code  Times  First    Meaning\n"
	    "----  -----  -------  ----------------------------------------------\n"
	    "M01   1      line 9   program: optional stop\n"
	    "M30   1      line 10  program: end of program, back to its beginning\n"
	    "\n"
	    "Stops\n"
	    "Stop          Where   Times  Comment\n"
	    "------------  ------  -----  -------\n"
	    "M01 optional  line 9  1      GAUGE\n"
	    "\n"
	    "Block-skip switches\n"
	    "None is used.\n"
	    "\n"
	    "Programs\n"
	    "Program  What          Stands at  Calls  First called at\n"
	    "-------  ------------  ---------  -----  ---------------\n"
	    "O4417    main program  line 2     0\n"
	    "\n";
	struct sheet t;
	char *s, *at;

	pair_help_profile(&t.c.profile);
	t.c.profile.code[t.c.profile.codes++] =
	    (struct profile_code){10, "clamping", "main chuck closed"};
	make(&t, mate,
	    "%\nO4417 (REV A)\n(FACE)\nN10 T0101\nG97 S900 M3 M10 G54\nG0 X60. Z0.\nG99 G1 X-1.6 "
	    "F.2\n"
	    "M201\nM1 (GAUGE)\nM30\n%\n");
	s = print(t.s, 80);
	at = strstr(s, "Channel lower");
	assert_non_null(at);
	if (strncmp(at, want, strlen(want)) != 0)
		fail_msg("%s", at);
	free(s);
	done(&t);
}

/* Every width is kept, the program's bytes cannot drive a terminal or a browser, the cautions are
 * there, and nothing is called what no program can promise. */
static void test_print(void **state)
{
	struct sheet t;
	struct text html = {0};

	one(&t, false,
	    "%\nO4417 (REV A)\nT5\nM6 (<SCRIPT>'&\"</SCRIPT> \x1b[2J AND MANY MORE WORDS THAN "
	    "FIT)\n"
	    "G90 G54 G0 X1.\nM201\nM30\n%\n");
	for (unsigned width = 60; width <= 100; width += 10) {
		char *s = print(t.s, width);

		for (const char *line = s; *line; line = strchr(line, '\n') + 1)
			assert_true(strcspn(line, "\n") <= width);
		assert_non_null(strstr(s, "Prove out every new"));
		assert_non_null(strstr(s, "<1B>"));
		assert_null(strchr(s, '\x1b'));
		assert_null(strstr(s, "safe"));
		free(s);
	}
	setup_html(t.s, &html);
	assert_false(html.failed);
	assert_non_null(strstr(html.s, "&lt;SCRIPT&gt;&#39;&amp;&quot;&lt;/SCRIPT&gt; &lt;1B&gt;"));
	assert_null(strstr(html.s, "<script"));
	assert_null(strstr(html.s, "<SCRIPT"));
	assert_null(strstr(html.s, "://"));
	assert_null(strstr(html.s, "safe"));
	assert_non_null(strstr(html.s, "single block"));
	assert_non_null(strstr(html.s, "</html>"));
	text_free(&html);
	done(&t);
}

/* The story: a condition that no wait code depends on was silently taken as not met; the sheet of
 * that one run seemed to be that of every run. */
static void test_one_run_of_several(void **state)
{
	struct sheet t;

	one(&t, false, "%\nO4417 (REV A)\nIF [#500 EQ 1] GOTO 9\nT5 M6\nN9 M201\nM30\n%\n");
	assert_true(t.s->branches);
	done(&t);
	one(&t, false, "%\nO4417 (REV A)\n#1=1\nIF [#1 EQ 1] GOTO 9\nT5 M6\nN9 M201\nM30\n%\n");
	assert_false(t.s->branches);
	done(&t);
}

/* The story: the sheet of a program in inches had other numbers than the program and no word why.
 */
static void test_inches(void **state)
{
	struct sheet t;
	const struct setup_channel *c =
	    one(&t, true, "%\nO4417 (REV A)\nG20 G99\nG0 X2. Z1.\nM201\nM30\n%\n");
	struct text out = {0};

	assert_true(c->inches);
	extent_is(&c->work[0], 0, 25.4, 4, 25.4, 4);
	setup_print(t.s, 80, &out);
	assert_non_null(strstr(out.s, "counts in inches (G20)"));
	text_free(&out);
	done(&t);
	c = one(&t, true, "%\nO4417 (REV A)\nG21 G99\nG0 X2. Z1.\nM201\nM30\n%\n");
	assert_false(c->inches);
	done(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_tools),
	    cmocka_unit_test(test_one_run_of_several),
	    cmocka_unit_test(test_inches),
	    cmocka_unit_test(test_tools_that_wait),
	    cmocka_unit_test(test_spindle_tools),
	    cmocka_unit_test(test_travel),
	    cmocka_unit_test(test_quadrants),
	    cmocka_unit_test(test_inches_and_holes),
	    cmocka_unit_test(test_cycles),
	    cmocka_unit_test(test_speeds),
	    cmocka_unit_test(test_codes),
	    cmocka_unit_test(test_stops_and_switches),
	    cmocka_unit_test(test_programs),
	    cmocka_unit_test(test_not_whole),
	    cmocka_unit_test(test_bounds),
	    cmocka_unit_test(test_whole),
	    cmocka_unit_test(test_print),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
