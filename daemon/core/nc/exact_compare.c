#include "exact.h"

#include <math.h>

/* -1, 0, 1; 2 where a control's rounding may decide. */
static int order(const struct nc_value *a, const struct nc_value *b)
{
	double apart = a->real - b->real;

	if (a->kind == NC_VALUE_EXACT && b->kind == NC_VALUE_EXACT && !a->rounds && !b->rounds) {
		__int128 x = (__int128)a->num * b->den, y = (__int128)b->num * a->den;

		/* equal numbers are read alike */
		if (x == y)
			return 0;
		if (nc_exact_is_certain(a) && nc_exact_is_certain(b))
			return x < y ? -1 : 1;
	}
	if (fabs(apart) <= nc_exact_off(a) + nc_exact_off(b))
		return 2;
	return apart < 0 ? -1 : 1;
}

/* A variable that holds nothing equals another such one and no number, but to some controls 0
 * (common practice). */
static struct nc_value compare_vacant(
    enum nc_op op, const struct nc_value *a, const struct nc_value *b)
{
	const struct nc_value *other = a->kind == NC_VALUE_VACANT ? b : a;
	int truth = nc_value_truth(other);

	if (op != NC_OP_EQ && op != NC_OP_NE)
		return nc_exact_maybe();
	if (other->kind == NC_VALUE_VACANT)
		return nc_value_int(op == NC_OP_EQ);
	return truth == 1 ? nc_value_int(op == NC_OP_NE) : nc_exact_maybe();
}

struct nc_value nc_exact_compare(enum nc_op op, const struct nc_value *a, const struct nc_value *b)
{
	int c;

	if (a->kind == NC_VALUE_UNKNOWN || b->kind == NC_VALUE_UNKNOWN)
		return nc_exact_maybe();
	if (a->kind == NC_VALUE_VACANT || b->kind == NC_VALUE_VACANT)
		return compare_vacant(op, a, b);
	c = order(a, b);
	if (c == 2)
		return nc_exact_maybe();
	switch (op) {
	case NC_OP_EQ:
		return nc_value_int(c == 0);
	case NC_OP_NE:
		return nc_value_int(c != 0);
	case NC_OP_GT:
		return nc_value_int(c > 0);
	case NC_OP_GE:
		return nc_value_int(c >= 0);
	case NC_OP_LT:
		return nc_value_int(c < 0);
	default:
		return nc_value_int(c <= 0);
	}
}

/* 0 or 1, whichever: there all dialects agree. */
static bool is_boolean(const struct nc_value *v)
{
	if (nc_exact_is_maybe(v))
		return true;
	return nc_exact_is_certain(v) && v->den == 1 && (v->num == 0 || v->num == 1);
}

/* Of two truths, -1 where one is not known. */
static struct nc_value combine(enum nc_op op, int x, int y)
{
	if (op == NC_OP_AND && (x == 0 || y == 0))
		return nc_value_int(0);
	if (op == NC_OP_OR && (x == 1 || y == 1))
		return nc_value_int(1);
	if (x < 0 || y < 0)
		return nc_exact_maybe();
	return nc_value_int(op == NC_OP_AND ? x && y : op == NC_OP_OR ? x || y : x != y);
}

struct nc_value nc_exact_logic(const struct nc_reading *reading, enum nc_op op,
    const struct nc_value *a, const struct nc_value *b)
{
	int x = nc_value_truth(a), y = nc_value_truth(b);
	uint64_t p, q;

	if (nc_exact_may_alarm(a) || nc_exact_may_alarm(b))
		return nc_exact_maybe();
	if (reading->truth == PROFILE_TRUTH_WHOLE || (is_boolean(a) && is_boolean(b)))
		return combine(op, x, y);
	if (op == NC_OP_AND && (x == 0 || y == 0))
		return nc_value_int(0);
	if (!nc_value_whole(a, &p) || !nc_value_whole(b, &q) || p > INT64_MAX || q > INT64_MAX)
		return nc_value_unknown();
	return nc_value_int((int64_t)(op == NC_OP_AND ? p & q : op == NC_OP_OR ? p | q : p ^ q));
}

struct nc_value nc_exact_not(const struct nc_reading *reading, const struct nc_value *v)
{
	int truth = nc_value_truth(v);

	/* how many bits a number has, to be turned over, is each control's own */
	if (reading->truth == PROFILE_TRUTH_BITS && !is_boolean(v))
		return nc_value_unknown();
	return truth < 0 ? nc_exact_maybe() : nc_value_int(!truth);
}
