/* The rational arithmetic. Numerators and denominators are below 2^63, so that no product of two
 * and no sum of two such products leaves 128 bits. */
#include "exact.h"

#include <math.h>

/* num / den as the result of a step whose operands leave it off by off. */
static struct nc_value result(
    __int128 num, __int128 den, double off, const struct nc_value *a, const struct nc_value *b)
{
	struct nc_value v = nc_exact_ratio(num, den, off);

	if (v.kind != NC_VALUE_EXACT)
		return v;
	if (nc_exact_is_certain(a) && nc_exact_is_certain(b) && nc_exact_is_certain(&v))
		return v;
	v.off += fabs(v.real) * NC_ROUNDING;
	v.rounds = v.off > 0;
	return v;
}

struct nc_value nc_exact_negative(const struct nc_value *v)
{
	struct nc_value w = *v;

	if (v->kind == NC_VALUE_ALARM)
		return w;
	if (!nc_exact_is_number(v))
		return nc_exact_marked(nc_value_unknown(), v, v, false);
	w.num = -v->num;
	w.real = -v->real;
	return w;
}

static bool both_exact(const struct nc_value *a, const struct nc_value *b)
{
	return a->kind == NC_VALUE_EXACT && b->kind == NC_VALUE_EXACT;
}

static struct nc_value add(const struct nc_value *a, const struct nc_value *b)
{
	double off = nc_exact_off(a) + nc_exact_off(b);

	if (!both_exact(a, b))
		return nc_exact_near(a->real + b->real, off);
	if (a->den == 1 && b->den == 1)
		return result((__int128)a->num + b->num, 1, off, a, b);
	return result((__int128)a->num * b->den + (__int128)b->num * a->den,
	    (__int128)a->den * b->den, off, a, b);
}

static struct nc_value multiply(const struct nc_value *a, const struct nc_value *b)
{
	double x = nc_exact_off(a), y = nc_exact_off(b);
	double off = fabs(a->real) * y + fabs(b->real) * x + x * y;

	if (!both_exact(a, b))
		return nc_exact_near(a->real * b->real, off);
	return result((__int128)a->num * b->num, (__int128)a->den * b->den, off, a, b);
}

/* b is not 0. */
static struct nc_value divide(const struct nc_value *a, const struct nc_value *b)
{
	double x = nc_exact_off(a), y = nc_exact_off(b), least = fabs(b->real) - y, off;
	int sign = nc_exact_sign(b);

	if (sign == 2 || least <= 0)
		return nc_value_unknown();
	off = (x + fabs(a->real / b->real) * y) / least;
	if (!both_exact(a, b))
		return nc_exact_near(a->real / b->real, off);
	return result((__int128)a->num * b->den, (__int128)a->den * b->num, off, a, b);
}

/*
 * MOD is never negative in NISTIR 6556. Others keep the sign of a or drop fractions first (common
 * practice): they agree for whole numbers that are not negative. b is not 0.
 */
static struct nc_value modulo(
    const struct nc_reading *reading, const struct nc_value *a, const struct nc_value *b)
{
	__int128 x, y, rest;

	/* the remainder leaps where the quotient is whole */
	if (!both_exact(a, b) || a->rounds || b->rounds)
		return nc_value_unknown();
	if (!nc_exact_is_certain(a) || !nc_exact_is_certain(b))
		return nc_value_unknown();
	if (!reading->nist && (a->num < 0 || b->num < 0 || a->den != 1 || b->den != 1))
		return nc_value_unknown();
	x = (__int128)a->num * b->den;
	y = (__int128)b->num * a->den;
	y = y < 0 ? -y : y;
	rest = x % y;
	return result(rest < 0 ? rest + y : rest, (__int128)a->den * b->den, 0, a, b);
}

/* a to the power b, a certainly above 0, by logarithms. */
static struct nc_value power_near(const struct nc_value *a, const struct nc_value *b)
{
	double real = pow(a->real, b->real), log_a = log(a->real), x = nc_exact_off(a);
	double part = fabs(b->real) * x / (a->real - x) + fabs(log_a) * nc_exact_off(b) +
	              fabs(b->real * log_a) * NC_ROUNDING;

	/* exp(part) - 1 is below 2 * part where part is below 1 */
	if (!(part < 1))
		return nc_value_unknown();
	return nc_exact_near(real, 2 * part * real);
}

static struct nc_value power(const struct nc_value *a, const struct nc_value *b)
{
	bool whole = b->kind == NC_VALUE_EXACT && b->den == 1 && !b->rounds;
	int sign = nc_exact_sign(a), sign_b = nc_exact_sign(b);
	struct nc_value v = nc_value_int(1);

	if (sign == 0 && sign_b != 0 && sign_b != 2)
		return sign_b < 0 ? nc_exact_alarm("division by zero") : nc_value_int(0);
	if (sign < 0 && b->kind == NC_VALUE_EXACT && !b->rounds && !whole)
		return nc_exact_alarm("a negative number to a power that is no whole number");
	if (sign == 0 || sign == 2)
		return nc_value_unknown();
	if (whole && b->num >= -64 && b->num <= 64) {
		int64_t n = b->num < 0 ? -b->num : b->num;

		while (n-- && v.kind != NC_VALUE_UNKNOWN)
			v = multiply(&v, a);
		if (b->num < 0 && v.kind != NC_VALUE_UNKNOWN) {
			struct nc_value one = nc_value_int(1);

			v = divide(&one, &v);
		}
		return v;
	}
	return sign < 0 ? nc_value_unknown() : power_near(a, b);
}

static struct nc_value calculate(const struct nc_reading *reading, enum nc_op op,
    const struct nc_value *a, const struct nc_value *b)
{
	struct nc_value minus;

	if ((op == NC_OP_DIV || op == NC_OP_MOD) && nc_exact_is_number(b) && nc_exact_sign(b) == 0)
		return nc_exact_alarm("division by zero");
	if (!nc_exact_is_number(a) || !nc_exact_is_number(b))
		return nc_value_unknown();
	switch (op) {
	case NC_OP_POW:
		return power(a, b);
	case NC_OP_MUL:
		return multiply(a, b);
	case NC_OP_DIV:
		return divide(a, b);
	case NC_OP_MOD:
		return modulo(reading, a, b);
	case NC_OP_ADD:
		return add(a, b);
	default:
		minus = nc_exact_negative(b);
		return add(a, &minus);
	}
}

struct nc_value nc_exact_op(const struct nc_reading *reading, enum nc_op op,
    const struct nc_value *a, const struct nc_value *b)
{
	struct nc_value v;

	if (a->kind == NC_VALUE_ALARM)
		return *a;
	if (b->kind == NC_VALUE_ALARM)
		return *b;
	if (op >= NC_OP_AND)
		v = nc_exact_logic(reading, op, a, b);
	else if (op >= NC_OP_EQ)
		v = nc_exact_compare(op, a, b);
	else
		v = calculate(reading, op, a, b);
	return nc_exact_marked(v, a, b, op == NC_OP_POW || op == NC_OP_DIV || op == NC_OP_MOD);
}
