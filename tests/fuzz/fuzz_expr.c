/*
 * Goal: whatever text is given as an expression, it is read to a place inside it or not at all,
 * reading it again gives the same, and its value under every dialect is a value: exact ones in
 * lowest terms, near ones finite. What one dialect that leaves questions open knows, each that
 * answers them knows too, and alike.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include "expr.h"
#include "input.h"

/* #n holds n / 8 up to #7; others are vacant, unknown or an alarm. */
static struct nc_value variable(void *ctx, uint32_t number)
{
	struct nc_pool *constants = ctx;
	struct nc_value v = {.kind = NC_VALUE_VACANT};
	const struct profile profile = {.name = ""};

	if (number < 8) {
		int64_t e = nc_expr_constant(constants, (int64_t)number * 125, 3);

		must(e >= 0);
		v = nc_expr_eval(constants, (uint32_t)e, &profile, NULL, NULL);
		must(v.kind == NC_VALUE_EXACT);
		constants->n = 0;
		return v;
	}
	if (number == 8)
		return v;
	if (number != 9)
		return nc_value_unknown();
	return (struct nc_value){.kind = NC_VALUE_ALARM, .why = "an alarm"};
}

static int64_t common(int64_t a, int64_t b)
{
	while (b) {
		int64_t rest = a % b;

		a = b;
		b = rest;
	}
	return a < 0 ? -a : a;
}

static void check_value(const struct nc_value *v)
{
	int64_t mantissa;
	uint8_t scale;
	uint64_t whole;

	must(v->kind <= NC_VALUE_ALARM);
	if (v->kind == NC_VALUE_EXACT) {
		must(v->den > 0 && v->num >= -INT64_MAX && common(v->num, v->den) == 1);
		must(v->rounds == (v->off > 0));
		must(fabs(v->real - (double)v->num / (double)v->den) <= fabs(v->real) * 1e-12);
	}
	if (v->kind == NC_VALUE_NEAR || v->kind == NC_VALUE_EXACT)
		must(isfinite(v->real) && isfinite(v->off) && v->off >= 0);
	must((v->kind == NC_VALUE_ALARM) == (v->why != NULL));
	must(nc_value_same(v, v));
	if (nc_value_decimal(v, &mantissa, &scale))
		must(scale <= 18);
	if (nc_value_whole(v, &whole))
		must(fabs((double)whole - v->real) <= 0.001 + fabs(v->real) * 1e-12);
}

static struct nc_value value(
    const struct nc_pool *pool, int64_t e, const struct profile *p, struct nc_pool *constants)
{
	struct nc_value v = nc_expr_eval(pool, (uint32_t)e, p, variable, constants);

	check_value(&v);
	return v;
}

static void check_dialects(const struct nc_pool *pool, int64_t e)
{
	struct nc_pool constants = {0};
	struct profile p = {.name = ""};
	struct nc_value open = value(pool, e, &p, &constants);

	for (unsigned i = 0; i < 12; i++) {
		struct nc_value v;

		p.fix = (enum profile_fix)(PROFILE_FIX_ZERO + i % 2);
		p.truth = (enum profile_truth)(PROFILE_TRUTH_WHOLE + i / 2 % 2);
		p.logic = (enum profile_logic)(PROFILE_LOGIC_SUM + i / 4);
		v = value(pool, e, &p, &constants);
		must(open.kind == NC_VALUE_UNKNOWN || nc_value_same(&open, &v));
	}
	nc_pool_free(&constants);
}

static void check(const char *s, size_t n, bool sum)
{
	struct nc_pool pool = {0};
	size_t used = 0, again = 0, before;
	int64_t e = sum ? nc_expr_sum(&pool, s, n, &used) : nc_expr_value(&pool, s, n, &used), f;

	must(e != NC_EXPR_NO_MEMORY);
	if (e >= 0) {
		must(used > 0 && used <= n);
		must(!nc_expr_is_constant(&pool, (uint32_t)e) || !nc_expr_reads(&pool, (uint32_t)e));
		check_dialects(&pool, e);
		before = pool.n;
		f = sum ? nc_expr_sum(&pool, s, used, &again)
		        : nc_expr_value(&pool, s, used, &again);
		must(f == (int64_t)before && again == used && pool.n == 2 * before);
		must(memcmp(pool.code, pool.code + before, before) == 0);
	} else {
		must(pool.n == 0);
	}
	nc_pool_free(&pool);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	check((const char *)data, size, true);
	check((const char *)data, size, false);
	return 0;
}
