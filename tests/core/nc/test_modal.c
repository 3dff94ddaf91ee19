/*
 * Goal: the modal state after blocks, and where they lead, is that of the word-address practice
 * that each test names; what was not programmed stays unknown.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <cmocka.h>
#include "steps.h"
#include "yoke/text.h"

static void known(const struct modal_number *n, double v)
{
	assert_int_equal(n->state, MODAL_KNOWN);
	if (!(fabs(n->v - v) < 1e-9))
		fail_msg("%.9g instead of %.9g", n->v, v);
}

static void at(const struct steps *s, int axis, double mm)
{
	assert_true(s->modal.place[axis].known);
	assert_false(s->modal.place[axis].shifted);
	if (!(fabs(s->modal.place[axis].at - mm) < 1e-9))
		fail_msg("at %.9g instead of %.9g", s->modal.place[axis].at, mm);
}

static void test_nothing_is_assumed(void **state)
{
	struct steps s;

	steps_of(&s, false, "G1 X10.\n");
	assert_int_equal(s.modal.units, MODAL_NONE);
	assert_int_equal(s.modal.plane, MODAL_NONE);
	assert_int_equal(s.modal.feed_mode, MODAL_NONE);
	assert_int_equal(s.modal.work_offset, MODAL_NONE);
	assert_int_equal(s.modal.spindle, MODAL_NONE);
	assert_int_equal(s.modal.feed.state, MODAL_ABSENT);
	/* absolute or incremental: not programmed */
	assert_false(s.modal.place[MODAL_X].known);
	assert_true(steps_last(&s)->named[MODAL_X]);
}

static void test_codes_are_exact(void **state)
{
	static const struct {
		struct nc_word w;
		int tenths;
	} c[] = {
	    {{.letter = 'G', .mantissa = 1}, 10},
	    {{.letter = 'G', .mantissa = 543, .scale = 1}, 543},
	    {{.letter = 'G', .mantissa = 5430, .scale = 2}, 543},
	    {{.letter = 'G', .mantissa = 100, .scale = 2}, 10},
	    {{.letter = 'G', .mantissa = 0}, 0},
	    {{.letter = 'G', .mantissa = 5431, .scale = 2}, -1},
	    {{.letter = 'G', .mantissa = -1}, -1},
	    {{.letter = 'G', .mantissa = INT64_MAX}, -1},
	    {{.letter = 'G', .mantissa = 1, .flags = NC_COMPUTED}, -1},
	};

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++)
		assert_int_equal(modal_code(&c[i].w), c[i].tenths);
}

/* Decimal-point input types of one control family's manual: X12345 and X1 in mm; ten times finer in
 * inches, so that a lost point is a factor 10,000 there. */
static void test_points(void **state)
{
	static const struct {
		const char *text;
		double increment, mm;
	} c[] = {
	    {"G90 G0 X123.45\n", 0.001, 123.45},
	    {"G90 G0 X12345\n", 0.001, 12.345},
	    {"G90 G0 X1\n", 0.001, 0.001},
	    {"G90 G0 X123.45\n", 0.01, 123.45},
	    {"G90 G0 X12345\n", 0.01, 123.45},
	    {"G90 G0 X1\n", 0.01, 0.01},
	    {"G90 G0 X12345\n", 1, 12345},
	    {"G90 G0 X1\n", 1, 1},
	    {"G20 G90 G0 X1.\n", 0.001, 25.4},
	    {"G20 G90 G0 X10000\n", 0.001, 25.4},
	    {"G20 G90 G0 X1\n", 1, 25.4},
	    {"G21 G90 G0 X-.5\n", 0.001, -0.5},
	};

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++) {
		struct steps s;

		steps_begin(&s, false);
		s.modal.increment = c[i].increment;
		steps_run(&s, c[i].text);
		at(&s, MODAL_X, c[i].mm);
	}
}

/* Lathe practice: X and U are diameters, U and W incremental, H an incremental C. */
static void test_turning_places(void **state)
{
	struct steps s;

	steps_of(&s, true, "G0 X50. Z2.\n");
	at(&s, MODAL_X, 25);
	at(&s, MODAL_Z, 2);
	steps_run(&s, "U-10. W-5.\n");
	at(&s, MODAL_X, 20);
	at(&s, MODAL_Z, -3);
	steps_run(&s, "C90.\nH-30.\n");
	at(&s, MODAL_C, 60);
	assert_int_equal(s.modal.family, MODAL_FAMILY_A);
}

/* H names an offset where T names the tool alone; G91 and U are ways there too. */
static void test_milling_places(void **state)
{
	struct steps s;

	steps_of(&s, false, "G90 G0 X50. Y1.\nG91 X-10.\nG90 U3.\nG43 H7 Z5. D8\n");
	at(&s, MODAL_X, 43);
	at(&s, MODAL_Y, 1);
	at(&s, MODAL_Z, 5);
	known(&s.modal.h, 7);
	known(&s.modal.d, 8);
	assert_int_equal(s.modal.length_offset, 430);
	assert_int_equal(s.modal.distance, 900);
}

/* NISTIR 6556, G92: at X4, G92 x7 makes this place X7, then G92 x9 makes it X9; ways from there. */
static void test_preset(void **state)
{
	struct steps s;

	steps_of(&s, false, "G90 G1 X4.\nG92 X7.\n");
	at(&s, MODAL_X, 7);
	assert_false(steps_last(&s)->named[MODAL_X]);
	steps_run(&s, "G92 X9.\nX10.\n");
	known(&steps_last(&s)->way[MODAL_X], 1);
}

static void number(struct text *t, const struct modal_number *n)
{
	text_printf(t, " %d:%.9g%s", n->state, n->v, n->point ? "." : "");
}

static void place(struct text *t, const struct modal_place *p)
{
	text_printf(t, " %s%s%.9g", p->known ? "" : "?", p->shifted ? "~" : "", p->at);
}

/* The state, and what the last block did. */
static char *describe(const struct steps *s)
{
	const struct modal *m = &s->modal;
	const struct modal_step *step = steps_last(s);
	const struct motion *motion = &s->v[s->n - 1].motion;
	struct text t = {0};

	text_printf(&t, "G %d %d %d %d %d %d %d %d %d %d; M %d %d %d; left %d", m->motion, m->plane,
	    m->units, m->distance, m->feed_mode, m->back, m->speed_mode, m->work_offset,
	    m->compensation, m->length_offset, m->spindle, m->mist, m->flood, motion->left);
	number(&t, &m->feed);
	number(&t, &m->speed);
	number(&t, &m->clamp);
	number(&t, &m->tool);
	number(&t, &m->tool_next);
	number(&t, &m->h);
	number(&t, &m->d);
	for (int i = 0; i < MODAL_AXES; i++) {
		place(&t, &m->place[i]);
		number(&t, &step->way[i]);
	}
	text_printf(&t, "; act %d %d %d %.9g %.9g", step->act, step->tool_change,
	    step->offset_change, motion->feed_seconds, motion->rapid_seconds);
	return text_take(&t);
}

/* NISTIR 6556, 3.3.6: words may be reordered on a line without changing its meaning. Every rotation
 * of each block's words leaves the same state and does the same. */
static void test_order_of_words(void **state)
{
	static const char *const block[] = {
	    "G1 G90 G21 G94 X10. Y20. F150 S1200 M3 M8 T7",
	    "G91 G20 G95 G1 X1. Z.5 F.01 S400 M4",
	    "G96 S200 G50 F.2 M3",
	    "G2 X5. Y5. I5. J0. G17 G90 F100 G94",
	    "G43 H3 Z10. G0 G90 G55 D2",
	    "T5 M6 S900 G97",
	    "G99 G81 X1. Z-5. R2. F80 G90 G94",
	};

	for (size_t i = 0; i < sizeof(block) / sizeof(*block); i++) {
		char *first = NULL, line[256];

		for (size_t turn = 0; block[i][turn]; turn++) {
			struct steps s;
			char *this;

			if (turn && block[i][turn - 1] != ' ')
				continue;
			snprintf(
			    line, sizeof(line), "%s %.*s\n", block[i] + turn, (int)turn, block[i]);
			steps_of(&s, false, "G90 G0 X0. Y0. Z50.\n");
			steps_run(&s, line);
			this = describe(&s);
			assert_non_null(this);
			if (first) {
				assert_string_equal(this, first);
				free(this);
			} else {
				first = this;
			}
		}
		free(first);
	}
}

/* T with the offset in its last digits (common practice): tool 0 leaves the tool alone. */
static void test_turret(void **state)
{
	struct steps s;

	steps_of(&s, true, "G0 X50. Z2.\nT0303\n");
	known(&s.modal.tool, 3);
	known(&s.modal.offset, 3);
	assert_true(steps_last(&s)->tool_change);
	assert_true(s.modal.place[MODAL_X].shifted);
	steps_run(&s, "G0 X40.\n");
	at(&s, MODAL_X, 20);
	assert_true(s.modal.place[MODAL_Z].shifted);
}

static void test_turret_offset(void **state)
{
	struct steps s;

	steps_of(&s, true, "T0303\nG0 X40. Z1.\nT0313\n");
	known(&s.modal.tool, 3);
	known(&s.modal.offset, 13);
	assert_false(steps_last(&s)->tool_change);
	assert_true(steps_last(&s)->offset_change);
	steps_run(&s, "T0300\nT0\n");
	known(&s.modal.tool, 3);
	known(&s.modal.offset, 0);
	assert_false(steps_last(&s)->tool_change);
	steps_run(&s, "T#1\n");
	assert_int_equal(s.modal.tool.state, MODAL_UNKNOWN);
	assert_true(steps_last(&s)->tool_change);
}

/* T makes ready, M06 changes (common practice; NISTIR 6556, 3.6.3). */
static void test_spindle_tool(void **state)
{
	struct steps s;

	steps_of(&s, false, "T5\n");
	assert_int_equal(s.modal.tool.state, MODAL_ABSENT);
	assert_false(steps_last(&s)->tool_change);
	steps_run(&s, "M6\n");
	known(&s.modal.tool, 5);
	assert_true(steps_last(&s)->tool_change);
	steps_run(&s, "T7 M06\n");
	known(&s.modal.tool, 7);
	steps_run(&s, "M6\n");
	assert_int_equal(s.modal.tool.state, MODAL_UNKNOWN);
}

/* G50 S and G92 S clamp (common practice). */
static void test_clamp(void **state)
{
	struct steps s;
	struct modal_number n;

	steps_of(&s, true, "G96 S180 M3\n");
	n = modal_clamp(&s.modal);
	known(&n, 5000);
	steps_run(&s, "G50 S2500\n");
	n = modal_clamp(&s.modal);
	known(&n, 2500);
	n = modal_speed(&s.modal);
	known(&n, 180);
	steps_run(&s, "G92 S2000\n");
	n = modal_clamp(&s.modal);
	known(&n, 2000);
	steps_run(&s, "G20\n"); /* feet */
	n = modal_speed(&s.modal);
	known(&n, 180 * 0.3048);
	steps_run(&s, "M5\n");
	n = modal_speed(&s.modal);
	assert_int_equal(n.state, MODAL_UNKNOWN);
}

static void test_speed_mode(void **state)
{
	struct steps s;
	struct modal_number n;

	steps_of(&s, false, "S900 M3\n");
	n = modal_speed(&s.modal);
	known(&n, 900); /* a channel without diameters: 1/min */
	steps_of(&s, true, "S900 M3\n");
	n = modal_speed(&s.modal);
	assert_int_equal(n.state, MODAL_UNKNOWN);
	steps_run(&s, "G97\n");
	n = modal_speed(&s.modal);
	known(&n, 900);
	steps_run(&s, "G96\n"); /* 900 was no surface speed */
	n = modal_speed(&s.modal);
	assert_int_equal(n.state, MODAL_UNKNOWN);
}

/* Family A: G98 per minute, G99 per turn; a channel without diameters: levels of drilling. */
static void test_feed_modes(void **state)
{
	struct steps s;
	struct modal_number n;

	steps_of(&s, true, "G99 G1 Z0. F.2\n");
	assert_int_equal(s.modal.feed_mode, 950);
	n = modal_feed(&s.modal);
	known(&n, 0.2);
	steps_run(&s, "G98\n"); /* 0.2 is no feed per minute */
	assert_int_equal(s.modal.feed_mode, 940);
	n = modal_feed(&s.modal);
	assert_int_equal(n.state, MODAL_UNKNOWN);
	steps_run(&s, "F100\n");
	n = modal_feed(&s.modal);
	known(&n, 100);
	steps_run(&s, "G99 F20\n"); /* 20 mm, or 20 increments? */
	n = modal_feed(&s.modal);
	assert_int_equal(n.state, MODAL_UNKNOWN);
	steps_of(&s, false, "G98 G94 F2\nG20\n");
	assert_int_equal(s.modal.back, 980);
	n = modal_feed(&s.modal);
	known(&n, 50.8);
}

/* G90, G92 and G94 of a lathe: cycles of family A, settings of family B. */
static void test_families(void **state)
{
	struct steps s;

	steps_of(&s, true, "G99 G0 X50. Z2.\nG90 X45. Z-20. F.2\nX40.\n");
	assert_int_equal(steps_last(&s)->act, MODAL_CYCLE);
	at(&s, MODAL_X, 25); /* back where it began */
	steps_run(&s, "G0 X60.\n");
	assert_int_equal(steps_last(&s)->act, MODAL_RAPID);

	steps_of(&s, true, "G90 G0 X50. Z2.\nG94 G1 X45. F100\n");
	assert_int_equal(s.modal.family, MODAL_FAMILY_B);
	assert_int_equal(s.modal.feed_mode, 940);
	at(&s, MODAL_X, 22.5);

	steps_of(&s, true, "G0 X50. Z2.\nG90 X45. Z-20.\n"); /* either */
	assert_int_equal(steps_last(&s)->act, MODAL_NAMELESS);
	assert_false(s.modal.place[MODAL_X].known);

	steps_of(&s, true, "G0 X50. Z2.\nG92 X49. Z-20. F1.5\n"); /* a thread: it has F */
	assert_int_equal(s.modal.family, MODAL_FAMILY_A);
	assert_int_equal(steps_last(&s)->act, MODAL_CYCLE);

	steps_of(&s, true, "G91 G0 U1.\nG90 X5.\nG92 X10.\n");
	assert_int_equal(s.modal.family, MODAL_FAMILY_B);
	at(&s, MODAL_X, 5);
}

/* The blocks of a contour are cut by its cycle and passed over by the program (common practice). */
static void test_contour(void **state)
{
	struct steps s;

	steps_of(&s, true,
	    "G99 G0 X50. Z2.\nG71 U2. R.5\nG71 P100 Q120 U.4 W.1 F.25\n(CONTOUR)\nN100 G0 X20.\n"
	    "N110 G1 Z-20. F.1\nN120 X50.\nG0 X60.\n");
	assert_int_equal(s.v[2].step.act, MODAL_CYCLE);
	for (int i = 4; i < 7; i++)
		assert_int_equal(s.v[i].step.act, MODAL_STILL);
	assert_int_equal(s.v[7].step.act, MODAL_RAPID);
	known(&s.v[7].step.way[MODAL_X], 5);
	/* the contour stands elsewhere */
	steps_of(
	    &s, true, "G99 G0 X50. Z2.\nG70 P100 Q120\nG71 P100 Q120\nG0 X60.\nN100 G0 X20.\n");
	assert_int_equal(s.v[3].step.act, MODAL_RAPID);
	assert_int_equal(s.v[4].step.act, MODAL_RAPID);
}

/* Places of the machine, and places in another offset, are not known. */
static void test_lost_places(void **state)
{
	struct steps s;

	steps_of(&s, true, "G0 X50. Z2. C0.\nG28 U0. W0.\n");
	assert_int_equal(steps_last(&s)->act, MODAL_REFERENCE);
	assert_false(s.modal.place[MODAL_X].known);
	assert_false(s.modal.place[MODAL_Z].known);
	at(&s, MODAL_C, 0);
	steps_run(&s, "G0 X50. Z2.\nG53 X0.\n");
	assert_false(s.modal.place[MODAL_X].known);
	at(&s, MODAL_Z, 2);
	steps_run(&s, "G54\n");
	assert_false(s.modal.place[MODAL_Z].known);
	steps_run(&s, "X1. Z1.\nG54 M8\n"); /* the same again */
	at(&s, MODAL_Z, 1);
	steps_run(&s, "G54.1 P2\nX1.\nG54.1 P2\n");
	at(&s, MODAL_X, 0.5);
	known(&s.modal.work_offset_p, 2);
	steps_run(&s, "G54.1 P3\n");
	assert_false(s.modal.place[MODAL_X].known);
}

/* Words that are no places: of G4, G10, G65. */
static void test_data_words(void **state)
{
	struct steps s;

	steps_of(&s, true, "G0 X50. Z2.\nG4 X1.5\n");
	at(&s, MODAL_X, 25);
	known(&steps_last(&s)->dwell_seconds, 1.5);
	steps_run(&s, "G65 P9010 X7. Z8. T3. S4. M5. F6.\n");
	at(&s, MODAL_X, 25);
	assert_int_equal(s.modal.speed.state, MODAL_ABSENT);
	assert_int_equal(s.modal.tool.state, MODAL_ABSENT);
	steps_run(&s, "G1 X40. ,C2.\n");
	assert_false(steps_last(&s)->named[MODAL_C]);
	steps_run(&s, "G10 P3 X1. Z1.\n");
	assert_int_equal(steps_last(&s)->act, MODAL_STILL);
	assert_false(s.modal.place[MODAL_X].known);
}

/* With a point seconds, without one P in ms (common practice). */
static void test_dwell(void **state)
{
	static const struct {
		const char *text;
		double increment, seconds;
	} c[] = {{"G4 P500\n", 0.001, 0.5}, {"G04 P2.\n", 0.001, 2}, {"G4 X2000\n", 0.001, 2},
	    {"G4 U.25\n", 0.001, 0.25}, {"G4 X2\n", 1, 2}, {"G4 P500\n", 1, 0.5}};
	struct steps s;

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++) {
		steps_begin(&s, true);
		s.modal.increment = c[i].increment;
		steps_run(&s, c[i].text);
		known(&steps_last(&s)->dwell_seconds, c[i].seconds);
	}
	steps_of(&s, true, "G4 P#1\nG4\nG4 P-1.\n");
	for (size_t i = 0; i < 3; i++)
		assert_int_equal(s.v[i].step.dwell_seconds.state, MODAL_UNKNOWN);
}

/* Nothing is guessed for a word that is computed and not known. */
static void test_computed(void **state)
{
	struct steps s;

	steps_of(&s, false, "G90 G21 G54 G94 G1 X1. Y1. F#1\n");
	assert_int_equal(s.modal.feed.state, MODAL_UNKNOWN);
	steps_run(&s, "X#2\n");
	assert_false(s.modal.place[MODAL_X].known);
	at(&s, MODAL_Y, 1);
	steps_run(&s, "G#3 X5.\n");
	assert_int_equal(s.modal.motion, MODAL_LOST);
	assert_int_equal(s.modal.units, MODAL_LOST);
	assert_false(s.modal.place[MODAL_Y].known);
	steps_run(&s, "G90 G1 X5.\n"); /* mm or inches? */
	assert_false(s.modal.place[MODAL_X].known);
	steps_run(&s, "M#4\n");
	assert_int_equal(s.modal.spindle, MODAL_LOST);
}

/* A without a comma beside X or Z alone: an axis, or the angle of the line. */
static void test_angle(void **state)
{
	struct steps s;

	steps_of(&s, true, "G0 X50. Z2.\nG1 X60. A30.\n");
	assert_false(s.modal.place[MODAL_X].known);
	assert_false(s.modal.place[MODAL_Z].known);
	steps_run(&s, "X50. Z2. A0.\nX60. ,A30.\n");
	at(&s, MODAL_X, 30);
}

/* Behind a program that lives in the control. */
static void test_passed(void **state)
{
	struct steps s;

	steps_of(&s, true, "G99 G1 X50. Z2. F.2\n");
	modal_passed(&s.modal);
	assert_false(s.modal.place[MODAL_X].known);
	assert_int_equal(s.modal.motion, MODAL_LOST);
	assert_int_equal(s.modal.feed_mode, 950);
}

/* Words at random: times stay numbers that are not negative. */
static void test_hostile(void **state)
{
	static const char *const value[] = {"0", "1", "2", "3", "4", "-1.", "50", "90", "92",
	    "0.0001", "99999999", "-999999999999999999", "0.000000000000000001", "#1", "81", "83",
	    "96", "28", "20", "18", "54.1", "12.1", "33", "71", "65"};
	static const char letters[] = "GGGGGGMMXYZUVWABCHIJKRPQFSTDELN";

	srand(5);
	for (int i = 0; i < 2000; i++) {
		struct steps s;
		char text[8192];
		size_t n = 0;

		for (int k = 0; k < 300; k++)
			n += (size_t)snprintf(text + n, sizeof(text) - n, "%c%s%s",
			    letters[(size_t)rand() % (sizeof(letters) - 1)],
			    value[(size_t)rand() % (sizeof(value) / sizeof(*value))],
			    k % 6 == 5 ? "\n" : " ");
		steps_of(&s, i % 2, text);
		assert_true(isfinite(s.feed) && s.feed >= 0);
		assert_true(isfinite(s.rapid) && s.rapid >= 0);
		assert_true(isfinite(s.dwell) && s.dwell >= 0);
	}
}

static void test_other_settings(void **state)
{
	struct steps s;

	steps_of(&s, false, "G17 G41 D3 M3 M7 M8\nM9\nG18 G42 M4\nG40 G49 M00\n");
	assert_int_equal(s.modal.plane, 180);
	assert_int_equal(s.modal.compensation, 400);
	assert_int_equal(s.modal.spindle, 4);
	assert_int_equal(s.modal.mist, 0);
	assert_int_equal(s.modal.flood, 0);
	assert_true(steps_last(&s)->stop);
	steps_run(&s, "M1\nM08\n");
	assert_true(s.v[0].step.optional_stop);
	assert_int_equal(s.modal.flood, 1);
	steps_run(&s, "M30\n");
	assert_true(steps_last(&s)->end);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_nothing_is_assumed),
	    cmocka_unit_test(test_codes_are_exact),
	    cmocka_unit_test(test_points),
	    cmocka_unit_test(test_turning_places),
	    cmocka_unit_test(test_milling_places),
	    cmocka_unit_test(test_preset),
	    cmocka_unit_test(test_order_of_words),
	    cmocka_unit_test(test_turret),
	    cmocka_unit_test(test_turret_offset),
	    cmocka_unit_test(test_spindle_tool),
	    cmocka_unit_test(test_clamp),
	    cmocka_unit_test(test_speed_mode),
	    cmocka_unit_test(test_feed_modes),
	    cmocka_unit_test(test_families),
	    cmocka_unit_test(test_contour),
	    cmocka_unit_test(test_lost_places),
	    cmocka_unit_test(test_data_words),
	    cmocka_unit_test(test_dwell),
	    cmocka_unit_test(test_computed),
	    cmocka_unit_test(test_angle),
	    cmocka_unit_test(test_passed),
	    cmocka_unit_test(test_hostile),
	    cmocka_unit_test(test_other_settings),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
