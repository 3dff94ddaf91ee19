/*
 * Goal: blocks take as long as worked examples from outside say, and what is not known is left out
 * and counted. Exercises (a) to (f): (a) and (b) a production textbook's problems 22.1 and 22.3,
 * (c) and (d) further ones of that kind, (e) a rod, (f) a tool maker's course; the others name
 * theirs.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "steps.h"

static void near(double got, double want, double by)
{
	if (!(fabs(got - want) <= by))
		fail_msg("%.9g instead of %.9g", got, want);
}

static void feed_is(bool turns, const char *text, double seconds, double by)
{
	struct steps s;

	steps_of(&s, turns, text);
	near(s.feed, seconds, by);
	assert_int_equal(steps_left(&s), 1); /* the rapid that comes from nowhere */
}

/* (a) Diameter 200, 700 mm long, 2.30 m/s = 138 m/min, 0.32 mm/turn: printed 597.6 s. */
static void test_turning(void **state)
{
	feed_is(true, "G18 G21 G99 G96 S138 M3\nG0 X200. Z0.\nG1 Z-700. F.32\n", 597.6, 0.1);
}

/* (b) Diameter 6 in faced at 180 1/min, 0.008 in: printed 1.44 in/min and 2.083 min. */
static void test_facing(void **state)
{
	feed_is(true, "G20 G99 G97 S180 M3\nG0 X6. Z0.\nG1 X0. F.008\n", 2.083 * 60, 0.03);
	feed_is(true, "G20 G98 G97 S180 M3\nG0 X6. Z0.\nG1 X0. F1.44\n", 2.083 * 60, 0.03);
}

/* (c) A tube faced from 35 to 20 in at 40 1/min, 0.015 in: 12.5 min (computed). */
static void test_tube(void **state)
{
	feed_is(true, "G20 G99 G97 S40 M3\nG0 X35. Z0.\nG1 X20. F.015\n", 750, 1e-6);
}

/* (d) A bar of 4.5 in, 46 in long, 450 ft/min at the outside, 0.010 in: 382.0 1/min, 12.04 min
 * (computed). */
static void test_bar(void **state)
{
	feed_is(true, "G20 G99 G96 S450 M3\nG0 X4.5 Z0.\nG1 Z-46. F.01\n", 12.04 * 60, 0.3);
	feed_is(true, "G20 G99 G97 S382 M3\nG0 X4.25 Z0.\nG1 Z-46. F.01\n", 12.04 * 60, 0.3);
}

/* (e) A rod of 12.5 mm at 400 1/min, 150 mm at 200 mm/min: 15.708 m/min, 0.75 min (computed). */
static void test_rod(void **state)
{
	feed_is(true, "G98 G97 S400 M3\nG0 X12.5 Z0.\nG1 Z-150. F200\n", 45, 1e-9);
	feed_is(true, "G99 G96 S15.708 M3\nG0 X12.5 Z0.\nG1 Z-150. F.5\n", 45, 1e-3);
}

/* (f) A shaft of 10 mm, 100 mm in one minute at 1000 1/min: 0.1 mm, 31.416 m/min. */
static void test_shaft(void **state)
{
	feed_is(true, "G99 G97 S1000 M3\nG0 X10. Z0.\nG1 Z-100. F.1\n", 60, 1e-9);
	feed_is(true, "G99 G96 S31.416 M3\nG0 X10. Z0.\nG1 Z-100. F.1\n", 60, 1e-3);
}

/* Facing and a taper under constant surface speed with a clamp: numbers confirmed by numerical
 * integration (see test_motion_rate.c); diameters in the text. */
static void test_constant_surface(void **state)
{
	feed_is(true, "G99 G50 S3000\nG96 S200 M3\nG0 X100. Z0.\nG1 X0. F.25\n", 9.849191, 1e-6);
	feed_is(true, "G99 G50 S4000\nG96 S180 M3\nG0 X80. Z0.\nG1 X20. F.2\n", 7.853982, 1e-6);
	feed_is(true, "G99 G50 S2500\nG96 S150 M3\nG0 X60. Z0.\nG1 X0. F.15\n", 8.303766, 1e-6);
	feed_is(true, "G99 G92 S2000\nG96 S200 M3\nG0 X20. Z0.\nG1 X0. F.2\n", 1.5, 1e-9);
	feed_is(true, "G99 G96 S150 M3\nG0 X40. Z0.\nG1 X60. Z-30. F.2\n", 9.934588, 1e-6);
	/* the channel's own limit of 5000 where none was programmed: dc = 12.732, then
	   pi (100^2 - 12.732^2) / (4000 0.25 200) min + 12.732 / (2 0.25 5000) min */
	feed_is(true, "G99 G96 S200 M3\nG0 X100. Z0.\nG1 X0. F.25\n", 9.577567, 1e-6);
}

/* Arcs as blocks, by their centre and radius, at 60 mm/min: as many seconds as mm (computed). */
static void test_arcs(void **state)
{
	feed_is(false, "G90 G94 F60\nG0 X0. Y0.\nG17 G2 X10. R20.\n", 10.107210, 1e-6);
	feed_is(false, "G90 G94 F60\nG0 X0. Y0.\nG17 G3 X10. R-20.\n", 115.556496, 1e-6);
	feed_is(false, "G90 G94 F60\nG0 X0. Y0.\nG17 G2 X10. Y10. I10.\n", 15.707963, 1e-6);
	feed_is(false, "G90 G94 F60\nG0 X0. Y0. Z0.\nG17 G3 X0. Y0. Z2. I5.\n", 31.479524, 1e-6);
	feed_is(false, "G90 G94 F60\nG0 X0. Y0.\nG17 G2 I5.\n", 2 * M_PI * 5, 1e-9);
	/* NISTIR 6556, arcs by their centre */
	feed_is(false, "G90 G94 F60\nG0 X7. Y7.\nG17 G2 X10. Y16. I3. J4.\n", 12.490458, 1e-6);
	/* a corner of radius 5 on a lathe: X is a diameter, I a radius */
	feed_is(true, "G98 F60\nG0 X20. Z0.\nG3 X30. Z-5. K-5.\n", M_PI * 2.5, 1e-9);
	feed_is(true, "G98 F60\nG0 X20. Z0.\nG18 G3 X30. Z-5. R5.\n", M_PI * 2.5, 1e-9);
	feed_is(true, "G98 F60\nG0 X20. Z0.\nG2 U10. W-5. I5.\n", M_PI * 2.5, 1e-9);
}

/* NISTIR 6556: G93 F2.0 is half a minute, however long the way. */
static void test_inverse_time(void **state)
{
	feed_is(false, "G90\nG0 X0.\nG93 G1 X7. F2.0\n", 30, 1e-9);
}

/* NISTIR 6556: with 2 threads a mm and F150 a tap turns at 300. So its feed per turn, 0.5 mm at 300
 * 1/min, takes as long as 150 mm/min does: in and out again, 20 mm, 8 s. */
static void test_tap(void **state)
{
	feed_is(false, "G90 G94 G99\nG0 X0. Y0. Z10.\nG84 Z-5. R5. F150\n", 8, 1e-9);
	feed_is(false, "G90 G95 G97 S300 M3 G99\nG0 X0. Y0. Z10.\nG84 Z-5. R5. F.5\n", 8, 1e-9);
}

/* A thread of lead 2 mm at 500 1/min: 50 mm in Z are 25 turns, 3 s; on a taper the lead runs along
 * Z (common practice). */
static void test_thread(void **state)
{
	feed_is(true, "G97 S500 M3\nG0 X20. Z5.\nG32 Z-45. F2.\n", 3, 1e-9);
	feed_is(true, "G97 S500 M3\nG0 X20. Z5.\nG32 X40. Z-45. F2.\n", 3, 1e-9);
	feed_is(false, "G90 G97 S500 M3\nG0 Z5.\nG33 Z-45. K2.\n", 3, 1e-9);
}

/* Each axis at 6000 mm/min and 3600 degrees/min: the longest counts. */
static void test_rapid(void **state)
{
	struct steps s;

	steps_of(&s, true, "G0 X0. Z0. C0.\nX100. Z30.\nC90.\nX0. C180.\n");
	near(s.v[1].motion.rapid_seconds, 0.5, 1e-12); /* 50 mm in radius */
	near(s.v[1].motion.rapid_mm, hypot(50, 30), 1e-12);
	near(s.v[2].motion.rapid_seconds, 1.5, 1e-12);
	near(s.v[3].motion.rapid_seconds, 1.5, 1e-12);
	assert_int_equal(s.v[0].motion.left, MOTION_LEFT_PLACE);
}

/* 90 degrees at 180 degrees/min; beside X, F means the way of X (NISTIR 6556, 2.1.2.5, from
 * memory). */
static void test_turning_axes(void **state)
{
	struct steps s;

	steps_of(&s, false, "G90 G94 G0 C0. X0.\nG1 C90. F180\nC0. X60. F60\n");
	near(s.v[1].motion.feed_seconds, 30, 1e-9);
	near(s.v[2].motion.feed_seconds, 60, 1e-9);
}

/*
 * Drilling (NISTIR 6556, 3.5.16), by hand, 100 mm/s rapid, 60 mm/min = 1 mm/s feed, from X0 Y0 Z20
 * to X30 Y40: rapid 40 mm for the longest axis, 18 mm down to R2, 12 mm feed, back 12 mm + 18 mm to
 * Z20 with G98, 12 mm to R2 with G99.
 */
static void test_drill(void **state)
{
	struct steps s;

	steps_of(&s, false, "G90 G94 G98 F60\nG0 X0. Y0. Z20.\nG81 X30. Y40. Z-10. R2.\n");
	near(s.v[2].motion.feed_seconds, 12, 1e-9);
	near(s.v[2].motion.rapid_seconds, (40 + 18 + 30) / 100.0, 1e-9);
	near(s.v[2].motion.rapid_mm, 50 + 18 + 30, 1e-9);
	near(s.modal.place[MODAL_Z].at, 20, 1e-12);
	steps_run(&s, "G99 X0. Y0.\n"); /* the words stay */
	near(s.v[0].motion.feed_seconds, 12, 1e-9);
	near(s.v[0].motion.rapid_seconds, (40 + 18 + 12) / 100.0, 1e-9);
	near(s.modal.place[MODAL_Z].at, 2, 1e-12);
	steps_run(&s, "X10.\nG80\nX20.\n");
	near(s.v[0].motion.rapid_seconds, (10 + 12) / 100.0, 1e-9);
	assert_int_equal(s.v[1].motion.left, MOTION_LEFT_NONE);
	assert_int_equal(s.v[2].motion.left, MOTION_LEFT_CYCLE); /* no code of motion */
}

/* Pecks of 5 in a hole of 12: in 5, out 5, in 5; in 10, out 10, in 10; in 12: 2 (5 + 10) mm more of
 * rapid. A dwell at the bottom of G82 and G89; G85 comes out at feed. */
static void test_drill_kinds(void **state)
{
	static const struct {
		const char *cycle;
		double feed, rapid, dwell;
	} c[] = {
	    {"G81", 12, 12, 0},
	    {"G82 P500", 12, 12, 0.5},
	    {"G83 Q5.", 12, 12 + 30, 0},
	    {"G83 Q12.", 12, 12, 0},
	    {"G83 Q6.", 12, 12 + 12, 0},
	    {"G85", 24, 0, 0},
	    {"G86", 12, 12, 0},
	    {"G89 P.25", 24, 0, 0.25},
	};

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++) {
		struct steps s;

		steps_of(&s, false, "G90 G94 G99 F60\nG0 X0. Y0. Z2.\n");
		steps_run(&s, c[i].cycle);
		near(s.feed, 0, 1e-12); /* no axis word: nothing is drilled */
		steps_run(&s, "X0. Z-10. R2.\n");
		near(s.feed, c[i].feed, 1e-9);
		near(s.rapid, c[i].rapid / 100, 1e-9);
		near(s.dwell, c[i].dwell, 1e-9);
	}
}

/* Three holes 10 mm apart by L, in incremental ways (NISTIR 6556, 3.5.16). From Z20: 3 x 10 mm
 * across, 15 mm to R, 3 x (8 mm in at feed, 8 mm out). K0 keeps the words only (common practice).
 */
static void test_drill_repeats(void **state)
{
	struct steps s;

	steps_of(&s, false,
	    "G90 G94 G99 F60\nG0 X0. Y0. Z20.\nG91 G81 X10. R-15. Z-8. L3\nG90 X50. K0\n");
	near(s.v[2].motion.feed_seconds, 24, 1e-9);
	near(s.v[2].motion.rapid_seconds, (30 + 15 + 24) / 100.0, 1e-9);
	near(s.modal.place[MODAL_X].at, 30, 1e-12);
	assert_int_equal(s.v[3].step.act, MODAL_STILL);
}

static void test_tool_and_dwell(void **state)
{
	struct steps s;

	steps_of(&s, true, "T0101\nT0111\nT0202\nG4 X1.5\n");
	near(s.tool, 6, 1e-12);
	near(s.dwell, 1.5, 1e-12);
	steps_of(&s, false, "T1 M6\nT2\nM6\n");
	near(s.tool, 6, 1e-12);
}

/* What is left out, and why. */
static void test_left_out(void **state)
{
	static const struct {
		bool turns;
		const char *text;
		enum motion_left left;
	} c[] = {
	    {true, "G99 G1 Z-5. F.2\n", MOTION_LEFT_SPEED}, /* S */
	    {true, "G98 G1 Z-5. F#1\n", MOTION_LEFT_FEED},  /* F */
	    {true, "G1 Z-5. F.2\n", MOTION_LEFT_FEED},      /* per minute or per turn */
	    {true, "G98 G1 Z-5. F0\n", MOTION_LEFT_FEED},   /* for ever */
	    {true, "G98 G1 Z#1 F10\n", MOTION_LEFT_PLACE},  /* where to */
	    {true, "G99 G97 S500 M5 G1 Z-5. F.2\n", MOTION_LEFT_SPEED},
	    {true, "G99 G97 S0 M3 G1 Z-5. F.2\n", MOTION_LEFT_SPEED},
	    {true, "G99 G96 S200 M3 G50 S#1\nG1 X5. F.2\n", MOTION_LEFT_SPEED},
	    {true, "G98 F10 G2 X40. Z-5.\n", MOTION_LEFT_SHAPE},     /* no centre */
	    {true, "G98 F10 G2 X40. Z-5. R1.\n", MOTION_LEFT_SHAPE}, /* too small */
	    {true, "G98 F10 G12.1\nG1 X40. C10.\n", MOTION_LEFT_SHAPE},
	    {true, "G76 P010060 Q100\n", MOTION_LEFT_CYCLE},
	    {true, "G83 Z-20. R2. Q5. F.1\n", MOTION_LEFT_CYCLE},
	    {true, "G28 U0.\n", MOTION_LEFT_REFERENCE},
	    {true, "G30 P2 W0.\n", MOTION_LEFT_REFERENCE},
	    {true, "G53 X0.\n", MOTION_LEFT_REFERENCE},
	    {true, "G31 Z-5. F10\n", MOTION_LEFT_REFERENCE},
	    {true, "G4 P#1\n", MOTION_LEFT_DWELL},
	    {true, "T0202\nG98 G1 Z-5. F10\n", MOTION_LEFT_PLACE}, /* from another tool's place */
	    {false, "G90 G94 F10 G87 Z-5. R2.\n", MOTION_LEFT_CYCLE},
	    {false, "G90 G94 F10 G81 Z-5. R2.\n", MOTION_LEFT_PLACE},     /* back to where */
	    {false, "G90 G94 F10 G99 G83 Z-5. R2.\n", MOTION_LEFT_SHAPE}, /* pecks without Q */
	    {false, "G94 F10 G1 X5.\n", MOTION_LEFT_DISTANCE}, /* absolute or incremental */
	    {false, "G0 X5.\n", MOTION_LEFT_DISTANCE},
	    {false, "G91 G94 F10 G1 X#1\n", MOTION_LEFT_PLACE},
	    {false, "G90 G94 F10 G1 G5.1 Q1\nG6.2 X5.\n", MOTION_LEFT_CYCLE},
	};

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++) {
		struct steps s;

		steps_begin(&s, c[i].turns);
		for (int k = 0; k < MODAL_AXES; k++)
			s.modal.place[k].known = true;
		steps_run(&s, c[i].text);
		if (s.left[c[i].left] != 1 || steps_left(&s) != 1)
			fail_msg("%s: %s %u of %u", c[i].text, motion_left_words(c[i].left),
			    s.left[c[i].left], steps_left(&s));
		assert_true(s.feed == 0 && s.rapid == 0 && s.dwell == 0);
	}
}

/* An incremental way is as long wherever it begins. */
static void test_way_without_place(void **state)
{
	struct steps s;

	steps_of(&s, true, "G98 G1 W-10. F60\n");
	near(s.feed, 10, 1e-12);
	assert_int_equal(steps_left(&s), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_turning),
	    cmocka_unit_test(test_facing),
	    cmocka_unit_test(test_tube),
	    cmocka_unit_test(test_bar),
	    cmocka_unit_test(test_rod),
	    cmocka_unit_test(test_shaft),
	    cmocka_unit_test(test_constant_surface),
	    cmocka_unit_test(test_arcs),
	    cmocka_unit_test(test_inverse_time),
	    cmocka_unit_test(test_tap),
	    cmocka_unit_test(test_thread),
	    cmocka_unit_test(test_rapid),
	    cmocka_unit_test(test_turning_axes),
	    cmocka_unit_test(test_drill),
	    cmocka_unit_test(test_drill_kinds),
	    cmocka_unit_test(test_drill_repeats),
	    cmocka_unit_test(test_tool_and_dwell),
	    cmocka_unit_test(test_left_out),
	    cmocka_unit_test(test_way_without_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
