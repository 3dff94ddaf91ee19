/*
 * Goal: how feed and speed make time, against values computed outside and against numerical
 * integration. Sources: formulas t = L / (f n), t = pi d L / (1000 f v), t = (D1 - D2) / (2 f n), t
 * = pi (D1^2 - D2^2) / (4000 f v) down to the clamp diameter 1000 v / (pi n) (a tool maker's
 * technical pages on cutting time; open courseware on machining time, module 4 lesson 25); the
 * numbers beside each check are computed from them and confirmed by numerical integration to 1e-9.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>
#include "motion.h"

static void near(double got, double want, double part)
{
	if (!(fabs(got - want) <= part * fabs(want)))
		fail_msg("%.9g instead of %.9g", got, want);
}

static struct motion_rate surface(double v, double f, double clamp)
{
	return (struct motion_rate){
	    .feed = f, .speed = v, .constant_surface = true, .clamp = clamp};
}

/* From diameter to diameter, straight in X. */
static double facing(double d1, double d2, double v, double f, double clamp)
{
	struct motion_rate rate = surface(v, f, clamp);

	return motion_line_seconds(&rate, fabs(d1 - d2) / 2, d1 / 2, d2 / 2);
}

static void test_facing(void **state)
{
	near(facing(100, 0, 200, 0.25, 3000), 9.849191, 1e-6);
	near(facing(80, 20, 180, 0.2, 4000), 7.853982, 1e-6);
	near(facing(60, 0, 150, 0.15, 2500), 8.303766, 1e-6);
	near(facing(20, 0, 200, 0.2, 2000), 1.5, 1e-9);
	/* outward it takes as long as inward */
	near(facing(0, 100, 200, 0.25, 3000), 9.849191, 1e-6);
}

/* A calculator that takes the speed at the outer diameter all the way down is off by half: without
 * a clamp the true time is exactly half of that (ratio computed). */
static void test_not_the_outer_speed(void **state)
{
	double n = 1000 * 200 / (M_PI * 100), wrong = 60 * 50 / (0.25 * n);

	near(facing(100, 0, 200, 0.25, 1e12), wrong / 2, 1e-6);
}

/* Past the middle the tool is at the same distance as on this side. */
static void test_past_the_middle(void **state)
{
	struct motion_rate rate = surface(200, 0.25, 3000);

	near(motion_line_seconds(&rate, 100, 50, -50), 2 * 9.849191, 1e-6);
}

/* Diameter 40 to 60 over 30 mm in Z, 150 m/min, 0.2 mm along the way. */
static void test_taper(void **state)
{
	struct motion_rate rate = surface(150, 0.2, 10000);

	near(motion_line_seconds(&rate, hypot(10, 30), 20, 30), 9.934588, 1e-6);
}

static void test_speeds(void **state)
{
	static const struct {
		double v, d, n;
	} c[] = {{180, 50, 1145.916}, {120, 25, 1527.887}, {250, 80, 994.718}};

	for (size_t i = 0; i < sizeof(c) / sizeof(*c); i++) {
		struct motion_rate rate = surface(c[i].v, 1, 1e9);

		near(60 / motion_line_seconds(&rate, 1, c[i].d / 2, c[i].d / 2), c[i].n, 1e-6);
	}
}

/* t = L / (f n): 100 mm at 0.2 mm and 500 1/min is one minute. */
static void test_constant_speed(void **state)
{
	struct motion_rate rate = {.feed = 0.2, .speed = 500};

	near(motion_line_seconds(&rate, 100, 10, 90), 60, 1e-12);
}

/* d(way) / (f n(x)) by Simpson's rule over way from 0 to 1. */
struct path {
	double x0, x1;                /* straight */
	const struct motion_arc *arc; /* or along an arc */
	int axis;
	double length;
};

static double slowness(const struct motion_rate *r, const struct path *p, double t)
{
	double x = p->x0 + (p->x1 - p->x0) * t, n;

	if (p->arc) {
		double angle = p->arc->start + p->arc->sweep * t;

		x = p->axis == 0 ? p->arc->u + p->arc->radius * cos(angle)
		                 : p->arc->v + p->arc->radius * sin(angle);
	}
	n = fmin(1000 * r->speed / (2 * M_PI * fabs(x)), r->clamp);
	return 60 * p->length / (r->feed * n);
}

static double simpson(const struct motion_rate *r, const struct path *p)
{
	enum { PIECES = 20000 };
	double sum = slowness(r, p, 0) + slowness(r, p, 1);

	for (int i = 1; i < PIECES; i++)
		sum += (i % 2 ? 4 : 2) * slowness(r, p, (double)i / PIECES);
	return sum / (3.0 * PIECES);
}

static double some(double low, double high)
{
	return low + (high - low) * ((double)rand() / RAND_MAX);
}

static void test_lines_by_simpson(void **state)
{
	srand(1);
	for (int i = 0; i < 100; i++) {
		struct motion_rate r = surface(some(20, 400), some(0.02, 1), some(500, 8000));
		struct path p = {.x0 = some(-60, 60), .x1 = some(-60, 60)};

		p.length = hypot(p.x1 - p.x0, some(0, 50));
		near(motion_line_seconds(&r, p.length, p.x0, p.x1), simpson(&r, &p), 1e-6);
	}
}

static void test_arcs_by_simpson(void **state)
{
	srand(2);
	for (int i = 0; i < 100; i++) {
		struct motion_rate r = surface(some(20, 400), some(0.02, 1), some(500, 8000));
		double from[2] = {some(-40, 40), some(-40, 40)};
		double to[2] = {some(-40, 40), some(-40, 40)};
		double radius = hypot(to[0] - from[0], to[1] - from[1]) / 2 * some(1, 3);
		struct motion_arc arc;
		struct path p = {.arc = &arc, .axis = i % 2};

		assert_true(motion_arc_radius(
		    from, to, i % 3 ? radius : -radius, some(0, 5), i % 4 < 2, &arc));
		p.length = arc.length;
		near(motion_arc_seconds(&r, &arc, p.axis, 0), simpson(&r, &p), 1e-6);
	}
}

/* X across the plane goes evenly. */
static void test_helix_across_x(void **state)
{
	struct motion_rate r = surface(100, 0.1, 3000);
	const double from[2] = {0, 0}, to[2] = {0, 0}, centre[2] = {5, 0};
	struct motion_arc arc;
	struct path p = {.x0 = 3, .x1 = 23};

	assert_true(motion_arc_centre(from, to, centre, 20, true, &arc));
	p.length = arc.length;
	near(motion_arc_seconds(&r, &arc, 2, 3), simpson(&r, &p), 1e-6);
}

static double degrees(double radians)
{
	return radians * 180 / M_PI;
}

/* Lengths computed outside: chord 10 and R20, R-20; a quarter of r10; one turn of r5 that climbs 2.
 */
static void test_arc_lengths(void **state)
{
	const double o[2] = {0, 0}, ten[2] = {10, 0}, corner[2] = {10, 10}, right[2] = {10, 0};
	const double five[2] = {5, 0};
	struct motion_arc arc;

	for (int clockwise = 0; clockwise < 2; clockwise++) {
		assert_true(motion_arc_radius(o, ten, 20, 0, clockwise, &arc));
		near(degrees(fabs(arc.sweep)), 28.955024, 1e-7);
		near(arc.length, 10.107210, 1e-7);
		assert_true(motion_arc_radius(o, ten, -20, 0, clockwise, &arc));
		near(arc.length, 115.556496, 1e-7);
		assert_true(clockwise ? arc.sweep < 0 : arc.sweep > 0);
	}
	assert_true(motion_arc_centre(o, corner, right, 0, true, &arc));
	near(arc.length, 15.707963, 1e-7);
	assert_true(motion_arc_centre(o, corner, right, 0, false, &arc));
	near(arc.length, 3 * 15.707963, 1e-7);
	assert_true(motion_arc_centre(o, o, five, 2, true, &arc));
	near(arc.length, 31.479524, 1e-7);
}

/* NISTIR 6556, arcs by their centre: G17 G2 x10 y16 i3 j4 from X7 Y7 has its centre at X10 Y11 and
 * radius 5; sweep and length computed. */
static void test_arc_of_the_report(void **state)
{
	const double from[2] = {7, 7}, to[2] = {10, 16}, centre[2] = {3, 4};
	struct motion_arc arc;

	assert_true(motion_arc_centre(from, to, centre, 0, true, &arc));
	near(arc.u, 10, 1e-12);
	near(arc.v, 11, 1e-12);
	near(arc.radius, 5, 1e-12);
	near(degrees(fabs(arc.sweep)), 143.1301, 1e-6);
	near(arc.length, 12.490458, 1e-7);
}

/* The arc by radius starts and ends where it was told to, and goes the way it was told to: the same
 * arc by its centre is the same one. */
static void test_both_forms_agree(void **state)
{
	srand(3);
	for (int i = 0; i < 200; i++) {
		double from[2] = {some(-40, 40), some(-40, 40)};
		double to[2] = {some(-40, 40), some(-40, 40)}, centre[2];
		double radius = hypot(to[0] - from[0], to[1] - from[1]) / 2 * some(1.001, 4);
		struct motion_arc a, b;

		assert_true(
		    motion_arc_radius(from, to, i % 2 ? radius : -radius, 0, i % 4 < 2, &a));
		centre[0] = a.u - from[0];
		centre[1] = a.v - from[1];
		assert_true(motion_arc_centre(from, to, centre, 0, i % 4 < 2, &b));
		near(a.sweep, b.sweep, 1e-6);
		near(a.length, b.length, 1e-6);
	}
}

static void test_no_such_arc(void **state)
{
	const double o[2] = {0, 0}, ten[2] = {10, 0}, off[2] = {4, 0}, close[2] = {5.005, 0};
	struct motion_arc arc;

	assert_false(motion_arc_centre(o, ten, off, 0, true, &arc)); /* radius 4, then 6 */
	assert_true(motion_arc_centre(o, ten, close, 0, true, &arc));
	assert_false(motion_arc_centre(o, ten, o, 0, true, &arc));
	assert_false(motion_arc_radius(o, ten, 4, 0, true, &arc)); /* chord over twice R */
	assert_true(motion_arc_radius(o, ten, 4.995, 0, true, &arc));
	near(arc.length, M_PI * 5, 1e-9);
	assert_false(motion_arc_radius(o, o, 4, 0, true, &arc));
	assert_false(motion_arc_radius(o, ten, NAN, 0, true, &arc));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_facing),
	    cmocka_unit_test(test_not_the_outer_speed),
	    cmocka_unit_test(test_past_the_middle),
	    cmocka_unit_test(test_taper),
	    cmocka_unit_test(test_speeds),
	    cmocka_unit_test(test_constant_speed),
	    cmocka_unit_test(test_lines_by_simpson),
	    cmocka_unit_test(test_arcs_by_simpson),
	    cmocka_unit_test(test_helix_across_x),
	    cmocka_unit_test(test_arc_lengths),
	    cmocka_unit_test(test_arc_of_the_report),
	    cmocka_unit_test(test_both_forms_agree),
	    cmocka_unit_test(test_no_such_arc),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
