/*
 * Evaluation with two stacks, without recursion: what waits for a value on its right (operators,
 * functions, signs, brackets), and values. An operator is applied when one that binds no stronger
 * follows.
 */
#include "expr.h"

#include <string.h>
#include "expr_code.h"

enum {
	STRENGTHS = 6,
	/* per bracket: itself, its function or #s, a sign, and operators that bind ever stronger */
	WAITING = (NC_EXPR_DEPTH + 1) * (2 + NC_EXPR_MARKS + STRENGTHS),
	VALUES = (NC_EXPR_DEPTH + 1) * (STRENGTHS + 2),
};

struct run {
	const struct nc_dialect *dialect;
	nc_expr_read_fn *read;
	void *ctx;
	size_t waiting, values;
	uint8_t wait[WAITING];
	struct nc_value v[VALUES];
};

/* Apply the operators on top that bind at least so strongly. */
static void reduce(struct run *r, unsigned least)
{
	while (r->waiting && r->wait[r->waiting - 1] >= NC_T_OPERATOR) {
		enum nc_op op = (enum nc_op)(r->wait[r->waiting - 1] - NC_T_OPERATOR);

		if (r->dialect->strength[op] < least)
			return;
		r->waiting--;
		r->values--;
		r->v[r->values - 1] =
		    nc_exact_op(&r->dialect->reading, op, &r->v[r->values - 1], &r->v[r->values]);
	}
}

static struct nc_value read_variable(const struct run *r, const struct nc_value *index)
{
	uint64_t number;

	if (index->kind == NC_VALUE_ALARM)
		return *index;
	if (!nc_value_whole(index, &number) || number > UINT32_MAX)
		return nc_exact_marked(nc_value_unknown(), index, index, true);
	if (number == 0)
		return (struct nc_value){.kind = NC_VALUE_VACANT};
	return r->read(r->ctx, (uint32_t)number);
}

/* Apply what stands in front of the operand that has just become whole. */
static void prefixes(struct run *r)
{
	for (; r->waiting; r->waiting--) {
		unsigned t = r->wait[r->waiting - 1];
		struct nc_value *v = &r->v[r->values - 1];

		if (t == NC_T_OPEN || t >= NC_T_OPERATOR)
			return;
		if (t == NC_T_ARC) {
			r->values--;
			v[-1] = nc_exact_arc(&v[-1], v);
		} else if (t == NC_T_VARIABLE) {
			*v = read_variable(r, v);
		} else if (t == NC_T_NEGATIVE) {
			*v = nc_exact_negative(v);
		} else {
			*v = nc_exact_function(
			    &r->dialect->reading, (enum nc_function)(t - NC_T_FUNCTION), v);
		}
	}
}

static struct nc_value number(const uint8_t *t)
{
	int64_t mantissa;
	__int128 unit = 1;

	memcpy(&mantissa, t, sizeof(mantissa));
	for (unsigned i = t[sizeof(mantissa)]; i; i--)
		unit *= 10;
	return nc_exact_ratio(mantissa, unit, 0);
}

/* An operand is whole with this value. */
static void operand(struct run *r, struct nc_value v)
{
	r->v[r->values++] = v;
	prefixes(r);
}

/* Returns the token to come. */
static const uint8_t *step(struct run *r, const uint8_t *t)
{
	switch (*t) {
	case NC_T_SMALL:
		operand(r, nc_value_int(t[1]));
		return t + 2;
	case NC_T_NUMBER:
		operand(r, number(t + 1));
		return t + 1 + sizeof(int64_t) + 1;
	case NC_T_COMMA:
		reduce(r, 0);
		r->wait[r->waiting - 2] = NC_T_ARC; /* of ATAN, below the bracket */
		return t + 1;
	case NC_T_CLOSE:
		reduce(r, 0);
		r->waiting--;
		if (t[1] == NC_T_OVER) {
			r->wait[r->waiting - 1] = NC_T_ARC;
			return t + 2;
		}
		prefixes(r);
		return t + 1;
	default:
		if (*t >= NC_T_OPERATOR)
			reduce(r, r->dialect->strength[*t - NC_T_OPERATOR]);
		r->wait[r->waiting++] = *t;
		return t + 1;
	}
}

static struct nc_value evaluate(
    const struct nc_dialect *d, const uint8_t *t, nc_expr_read_fn *read, void *ctx)
{
	struct run r;

	r.dialect = d;
	r.read = read;
	r.ctx = ctx;
	r.waiting = r.values = 0;
	while (*t != NC_T_END)
		t = step(&r, t);
	reduce(&r, 0);
	return r.v[0];
}

struct nc_value nc_expr_eval(const struct nc_pool *p, uint32_t expr, const struct profile *profile,
    nc_expr_read_fn *read, void *ctx)
{
	const uint8_t *code = p->code + expr;
	struct nc_value all = nc_value_unknown(), v;
	struct nc_dialect d;

	for (unsigned i = 0; nc_dialect_reading(profile, code[0], i, &d); i++) {
		v = evaluate(&d, code + 1, read, ctx);
		if (i == 0)
			all = v;
		else if (nc_exact_is_maybe(&all) != nc_exact_is_maybe(&v) ||
		         !nc_value_same(&all, &v))
			all = nc_value_unknown();
		if (all.kind == NC_VALUE_UNKNOWN)
			break;
	}
	return all;
}
