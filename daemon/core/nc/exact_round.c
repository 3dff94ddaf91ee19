#include "exact.h"

#include <math.h>

/* Half is rounded away from zero (NISTIR 6556, 3.3.2.4). fix: of one reading. */
static double to_whole(enum profile_fix fix, enum nc_function f, double x)
{
	bool zero = fix == PROFILE_FIX_ZERO;

	if (f == NC_F_ROUND)
		return round(x);
	if (f == NC_F_FIX)
		return zero ? trunc(x) : floor(x);
	return zero && x < 0 ? floor(x) : ceil(x);
}

/* The same of a number whose value is certain, without leaving whole numbers. */
static struct nc_value exactly(enum profile_fix fix, enum nc_function f, const struct nc_value *v)
{
	bool negative = v->num < 0, outwards;
	int64_t size = negative ? -v->num : v->num, whole = size / v->den, rest = size % v->den;

	if (f == NC_F_ROUND)
		outwards = rest >= v->den - rest;
	else if (fix == PROFILE_FIX_ZERO)
		outwards = f == NC_F_FUP && rest;
	else
		outwards = (f == NC_F_FIX) == negative && rest;
	whole += outwards;
	return nc_value_int(negative ? -whole : whole);
}

struct nc_value nc_exact_whole(
    const struct nc_reading *reading, enum nc_function f, const struct nc_value *v)
{
	double low, high;

	if (v->kind == NC_VALUE_EXACT && !v->rounds)
		return exactly(reading->fix, f, v);
	/* where the edge lies between what controls may hold, which side is not known */
	low = to_whole(reading->fix, f, v->real - v->off);
	high = to_whole(reading->fix, f, v->real + v->off);
	if (low != high || fabs(low) > 9e15)
		return nc_value_unknown();
	return nc_value_int((int64_t)low);
}
