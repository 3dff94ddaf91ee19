/*
 * Functions of one value. Where the result is rational it is kept so, but a control computes it by
 * series: it rounds, unless it is 0. What a result is off follows from the derivative.
 */
#include "exact.h"

#include <math.h>

static const double DEGREE = 0.017453292519943295; /* pi / 180 */

/* True when v is exactly a whole number of units: den may be 1 or 2. */
static bool in_units(const struct nc_value *v, int64_t per, int64_t *units)
{
	if (v->kind != NC_VALUE_EXACT || v->rounds || per % v->den)
		return false;
	return !__builtin_mul_overflow(v->num, per / v->den, units);
}

static struct nc_value rounded(int64_t num, int64_t den)
{
	double real = (double)num / (double)den;

	return nc_exact_ratio(num, den, fabs(real) * NC_ROUNDING);
}

/* What an angle in degrees is off, in radians, with the rounding of taking whole turns from it. */
static double angle_off(const struct nc_value *v)
{
	return (nc_exact_off(v) + fabs(v->real) * NC_ROUNDING) * DEGREE;
}

/* The sine of v + shift degrees: exact at multiples of 30 degrees where it is rational. */
static struct nc_value sine(const struct nc_value *v, int64_t shift)
{
	enum { IRRATIONAL = 9 };
	static const int8_t twice[12] = {
	    0, 1, IRRATIONAL, 2, IRRATIONAL, 1, 0, -1, IRRATIONAL, -2, IRRATIONAL, -1};
	int64_t angle;

	if (in_units(v, 1, &angle)) {
		angle = ((angle % 360 + shift) % 360 + 360) % 360;
		/* not off at the angle 0 */
		if (angle % 180 == 0)
			return nc_exact_ratio(0, 1, angle_off(v));
		if (v->num == 0)
			return nc_value_int(1);
		if (angle % 30 == 0 && twice[angle / 30] != IRRATIONAL)
			return rounded(twice[angle / 30], 2);
	}
	return nc_exact_near(shift ? cos(v->real * DEGREE) : sin(v->real * DEGREE), angle_off(v));
}

static struct nc_value tangent(const struct nc_value *v)
{
	double t = tan(v->real * DEGREE), c = cos(v->real * DEGREE), off = angle_off(v);
	int64_t angle;

	/* near 90 degrees some controls alarm, others give a huge number */
	if (fabs(c) < 1e-3 || off > 1e-6)
		return nc_value_unknown();
	if (in_units(v, 1, &angle) && angle % 45 == 0) {
		angle = (angle % 180 + 180) % 180;
		return nc_exact_ratio(angle == 0 ? 0 : angle == 45 ? 1 : -1, 1, 2 * off);
	}
	return nc_exact_near(t, 2 * off / (c * c));
}

/* ASIN, ACOS: exact at -1, -1/2, 0, 1/2, 1. */
static struct nc_value arc_sine(const struct nc_value *v, bool cosine)
{
	double off = nc_exact_off(v), room = 1 - fabs(v->real), slope;
	int64_t half;

	if (room < -off)
		return nc_exact_alarm("ASIN or ACOS of a number beyond 1");
	if (in_units(v, 2, &half)) {
		int64_t angle = half == 0 ? 0 : half % 2 == 0 ? half * 45 : half * 30;

		return half == 0 && !cosine ? nc_value_int(0)
		                            : rounded(cosine ? 90 - angle : angle, 1);
	}
	/* so near to 1 rounding may lead beyond it */
	if (room <= 2 * off + NC_ROUNDING)
		return nc_value_unknown();
	slope = 1 / sqrt((room - off) * (2 - room));
	return nc_exact_near((cosine ? acos(v->real) : asin(v->real)) / DEGREE,
	    off * slope / DEGREE + 90 * NC_ROUNDING);
}

static struct nc_value arc_tangent(const struct nc_value *v)
{
	int64_t unit;

	if (in_units(v, 1, &unit) && unit >= -1 && unit <= 1)
		return rounded(45 * unit, 1);
	return nc_exact_near(atan(v->real) / DEGREE, nc_exact_off(v) / DEGREE);
}

static struct nc_value direction(const struct nc_value *a, const struct nc_value *b)
{
	int up, right;
	double x, y, far;

	if (!nc_exact_is_number(a) || !nc_exact_is_number(b))
		return nc_value_unknown();
	up = nc_exact_sign(a);
	right = nc_exact_sign(b);
	/* below the axis controls count on to 360 degrees or from -180 (common practice) */
	if (up < 0 || up == 2 || (up == 0 && (right == 0 || right == 2)))
		return nc_value_unknown();
	if (up == 0)
		return right > 0 ? nc_value_int(0) : rounded(180, 1);
	if (right == 0)
		return rounded(90, 1);
	if (nc_exact_is_certain(a) && nc_exact_is_certain(b) && a->den == b->den &&
	    (a->num == b->num || a->num == -b->num))
		return rounded(a->num == b->num ? 45 : 135, 1);
	x = nc_exact_off(a);
	y = nc_exact_off(b);
	far = hypot(a->real, b->real) - x - y;
	if (!(far > 0))
		return nc_value_unknown();
	return nc_exact_near(atan2(a->real, b->real) / DEGREE, (x + y) / far / DEGREE);
}

struct nc_value nc_exact_arc(const struct nc_value *a, const struct nc_value *b)
{
	if (a->kind == NC_VALUE_ALARM || b->kind == NC_VALUE_ALARM)
		return a->kind == NC_VALUE_ALARM ? *a : *b;
	return nc_exact_marked(direction(a, b), a, b, true);
}

static int64_t root(int64_t v)
{
	int64_t r = (int64_t)sqrt((double)v);

	while ((__int128)r * r > v)
		r--;
	while ((__int128)(r + 1) * (r + 1) <= v)
		r++;
	return r;
}

static struct nc_value square_root(const struct nc_value *v)
{
	int sign = nc_exact_sign(v);
	double off = nc_exact_off(v);
	struct nc_value w;

	if (sign < 0)
		return nc_exact_alarm("the root of a negative number");
	if (sign == 2)
		return nc_value_unknown();
	if (v->kind == NC_VALUE_EXACT) {
		int64_t n = root(v->num), d = root(v->den);

		if ((__int128)n * n == v->num && (__int128)d * d == v->den) {
			w = nc_exact_ratio(n, d, 0);
			/* square roots of squares come out even */
			if (nc_exact_is_certain(v) && nc_exact_is_certain(&w))
				return w;
			off = off / w.real + w.real * NC_ROUNDING;
			return nc_exact_ratio(n, d, off);
		}
	}
	return nc_exact_near(sqrt(v->real), off / sqrt(v->real));
}

static struct nc_value exponential(const struct nc_value *v)
{
	double real = exp(v->real), off = nc_exact_off(v) + fabs(v->real) * NC_ROUNDING;

	if (nc_exact_sign(v) == 0)
		return nc_value_int(1);
	return off < 1 ? nc_exact_near(real, 2 * off * real) : nc_value_unknown();
}

static struct nc_value logarithm(const struct nc_value *v)
{
	int sign = nc_exact_sign(v);
	double off = nc_exact_off(v);

	if (sign <= 0)
		return nc_exact_alarm("the logarithm of zero or less");
	if (sign == 2)
		return nc_value_unknown();
	if (nc_exact_is_certain(v) && v->num == 1 && v->den == 1)
		return nc_value_int(0);
	return nc_exact_near(log(v->real), off / (v->real - off) + NC_ROUNDING);
}

static struct nc_value magnitude(const struct nc_value *v)
{
	int sign = nc_exact_sign(v);

	if (sign == 2 && v->real < 0)
		return nc_exact_negative(v);
	return sign < 0 ? nc_exact_negative(v) : *v;
}

/* Between a number and its decimal digits, four bits each (common practice). */
static struct nc_value digits(const struct nc_value *v, uint64_t from, uint64_t to)
{
	uint64_t n, out = 0, unit = 1;

	if (!nc_value_whole(v, &n) || n > 99999999)
		return nc_value_unknown();
	for (; n; n /= from, unit *= to) {
		if (n % from > 9)
			return nc_value_unknown();
		out += n % from * unit;
	}
	return nc_value_int((int64_t)out);
}

static struct nc_value compute(
    const struct nc_reading *reading, enum nc_function f, const struct nc_value *v)
{
	if (f == NC_F_NOT)
		return nc_exact_not(reading, v);
	if (!nc_exact_is_number(v))
		return nc_value_unknown();
	switch (f) {
	case NC_F_ABS:
		return magnitude(v);
	case NC_F_ACOS:
		return arc_sine(v, true);
	case NC_F_ASIN:
		return arc_sine(v, false);
	case NC_F_ATAN:
		return arc_tangent(v);
	case NC_F_COS:
		return sine(v, 90);
	case NC_F_EXP:
		return exponential(v);
	case NC_F_FIX:
	case NC_F_FUP:
	case NC_F_ROUND:
		return nc_exact_whole(reading, f, v);
	case NC_F_LN:
		return logarithm(v);
	case NC_F_SIN:
		return sine(v, 0);
	case NC_F_SQRT:
		return square_root(v);
	case NC_F_TAN:
		return tangent(v);
	case NC_F_BIN:
		return digits(v, 16, 10);
	case NC_F_BCD:
		return digits(v, 10, 16);
	default:
		return nc_value_unknown();
	}
}

struct nc_value nc_exact_function(
    const struct nc_reading *reading, enum nc_function f, const struct nc_value *v)
{
	bool partial = f != NC_F_ABS && f != NC_F_NOT && f != NC_F_SIN && f != NC_F_COS &&
	               f != NC_F_FIX && f != NC_F_FUP && f != NC_F_ROUND;

	if (v->kind == NC_VALUE_ALARM)
		return *v;
	return nc_exact_marked(compute(reading, f, v), v, v, partial);
}
