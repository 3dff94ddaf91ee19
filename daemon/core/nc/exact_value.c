#include "exact.h"

#include <math.h>

struct nc_value nc_value_unknown(void)
{
	return (struct nc_value){.kind = NC_VALUE_UNKNOWN};
}

struct nc_value nc_exact_maybe(void)
{
	return (struct nc_value){.kind = NC_VALUE_UNKNOWN, .den = 1};
}

bool nc_exact_is_maybe(const struct nc_value *v)
{
	return v->kind == NC_VALUE_UNKNOWN && v->den == 1;
}

/* In an unknown value num and den are free for such marks. */
struct nc_value nc_exact_marked(
    struct nc_value v, const struct nc_value *a, const struct nc_value *b, bool partial)
{
	if (v.kind == NC_VALUE_UNKNOWN)
		v.num = partial || nc_exact_may_alarm(a) || nc_exact_may_alarm(b);
	return v;
}

bool nc_exact_may_alarm(const struct nc_value *v)
{
	return v->kind == NC_VALUE_UNKNOWN && v->num == 1;
}

struct nc_value nc_exact_alarm(const char *why)
{
	return (struct nc_value){.kind = NC_VALUE_ALARM, .why = why};
}

struct nc_value nc_exact_near(double real, double off)
{
	struct nc_value v = {.kind = NC_VALUE_NEAR, .real = real};

	v.off = off + fabs(real) * NC_ROUNDING;
	return isfinite(real) && isfinite(v.off) ? v : nc_value_unknown();
}

static unsigned __int128 magnitude(__int128 v)
{
	return v < 0 ? -(unsigned __int128)v : (unsigned __int128)v;
}

/* The greatest common divisor; b not 0. */
static unsigned __int128 common(unsigned __int128 a, unsigned __int128 b)
{
	while (b >> 64 || a >> 64) {
		unsigned __int128 rest = a % b;

		a = b;
		b = rest;
		if (!b)
			return a;
	}
	/* the rest in the processor's own words, which are many times faster */
	for (uint64_t x = (uint64_t)a, y = (uint64_t)b;;) {
		uint64_t rest;

		if (!y)
			return x;
		rest = x % y;
		x = y;
		y = rest;
	}
}

struct nc_value nc_exact_ratio(__int128 num, __int128 den, double off)
{
	unsigned __int128 n = magnitude(num), d = magnitude(den), c = d == 1 ? 1 : common(n, d);
	bool negative = (num < 0) != (den < 0);
	struct nc_value v = {.kind = NC_VALUE_EXACT};

	if (c != 1) {
		n /= c;
		d /= c;
	}
	v.real = d == 1 ? (double)n : (double)((long double)n / (long double)d);
	if (negative)
		v.real = -v.real;
	if (n > INT64_MAX || d > INT64_MAX)
		return nc_exact_near(v.real, off);
	v.num = negative ? -(int64_t)n : (int64_t)n;
	v.den = (int64_t)d;
	v.rounds = off > 0;
	v.off = off;
	return v;
}

struct nc_value nc_value_int(int64_t v)
{
	return nc_exact_ratio(v, 1, 0);
}

bool nc_exact_is_number(const struct nc_value *v)
{
	return v->kind == NC_VALUE_EXACT || v->kind == NC_VALUE_NEAR;
}

bool nc_exact_is_certain(const struct nc_value *v)
{
	const int64_t most = 999999999;
	int64_t digits = v->num < 0 ? -v->num : v->num;

	if (v->kind != NC_VALUE_EXACT || v->rounds || (v->den & (v->den - 1)))
		return false;
	/* each half, quarter, .. takes one more digit behind the point */
	for (int64_t den = v->den; den > 1 && digits <= most; den >>= 1)
		digits *= 5;
	return digits <= most;
}

double nc_exact_off(const struct nc_value *v)
{
	if (v->kind == NC_VALUE_NEAR || v->rounds)
		return v->off;
	return nc_exact_is_certain(v) ? 0 : fabs(v->real) * NC_ROUNDING;
}

int nc_exact_sign(const struct nc_value *v)
{
	if (v->kind == NC_VALUE_EXACT && !v->rounds)
		return (v->num > 0) - (v->num < 0);
	return v->real > v->off ? 1 : v->real < -v->off ? -1 : 2;
}

int nc_value_truth(const struct nc_value *v)
{
	int sign = nc_exact_is_number(v) ? nc_exact_sign(v) : 2;

	return sign == 2 ? -1 : sign != 0;
}

bool nc_value_whole(const struct nc_value *v, uint64_t *whole)
{
	double nearest;

	if (v->kind == NC_VALUE_EXACT && !v->rounds) {
		*whole = (uint64_t)v->num;
		return v->den == 1 && v->num >= 0;
	}
	nearest = round(v->real);
	if (!nc_exact_is_number(v) || nearest < 0 || nearest > 1e15 ||
	    fabs(v->real - nearest) + v->off > 0.0001)
		return false;
	*whole = (uint64_t)nearest;
	return true;
}

bool nc_value_same(const struct nc_value *a, const struct nc_value *b)
{
	if (a->kind != b->kind)
		return false;
	if (a->kind == NC_VALUE_EXACT)
		return a->num == b->num && a->den == b->den && a->off == b->off;
	return a->kind != NC_VALUE_NEAR || (a->real == b->real && a->off == b->off);
}

bool nc_value_decimal(const struct nc_value *v, int64_t *mantissa, uint8_t *scale)
{
	__int128 m = v->num;
	int64_t den = v->den;
	uint8_t digits = 0;

	if (!nc_exact_is_number(v))
		return false;
	if (v->kind == NC_VALUE_EXACT) {
		for (; digits < 18 && m % den; digits++)
			m *= 10;
		if (m % den == 0 && m / den <= INT64_MAX && m / den >= -INT64_MAX) {
			*mantissa = (int64_t)(m / den);
			*scale = digits;
			return true;
		}
	}
	if (fabs(v->real) > 9e11)
		return false;
	*mantissa = llround(v->real * 1e6);
	*scale = 6;
	return true;
}
