/*
 * Goal: an expression has the value that the published rules give it; where a control's dialect or
 * rounding decides, it is unknown, and known again where all readings agree; nothing that is
 * written, however deep or long, is answered wrong or not at all.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "expr.h"

/* The dialect of NISTIR 6556, and none. */
static const struct profile nist = {
    .fix = PROFILE_FIX_DOWN, .logic = PROFILE_LOGIC_SUM, .truth = PROFILE_TRUTH_WHOLE};
static const struct profile open_dialect;

/* #1 = 2, #2 = 0.375, #3 = 7, #4 = 1, #5 vacant; the others are not known. */
static struct nc_value variable(void *ctx, uint32_t number)
{
	struct nc_pool pool = {0};
	int64_t e;
	struct nc_value v;

	(void)ctx;
	if (number == 1 || number == 3 || number == 4)
		return nc_value_int(number == 1 ? 2 : number == 3 ? 7 : 1);
	if (number == 5)
		return (struct nc_value){.kind = NC_VALUE_VACANT};
	if (number != 2)
		return nc_value_unknown();
	e = nc_expr_constant(&pool, 375, 3);
	assert_true(e >= 0);
	v = nc_expr_eval(&pool, (uint32_t)e, &nist, NULL, NULL);
	nc_pool_free(&pool);
	return v;
}

static struct nc_value value_in(const struct profile *p, const char *s)
{
	struct nc_pool pool = {0};
	size_t used = 0;
	int64_t e = nc_expr_sum(&pool, s, strlen(s), &used);
	struct nc_value v;

	if (e < 0 || used != strlen(s))
		fail_msg("not read: %s", s);
	v = nc_expr_eval(&pool, (uint32_t)e, p, variable, NULL);
	nc_pool_free(&pool);
	return v;
}

static void is_in(const struct profile *p, const char *s, double want)
{
	struct nc_value v = value_in(p, s);

	if (v.kind != NC_VALUE_EXACT && v.kind != NC_VALUE_NEAR)
		fail_msg("%s: kind %u, want %g", s, v.kind, want);
	/* what is printed, and put in where that was printed before, is rounded */
	if (fabs(v.real - want) > 1e-4 * fmax(1, fabs(want)))
		fail_msg("%s = %.9g, want %g", s, v.real, want);
}

static void is(const char *s, double want)
{
	is_in(&nist, s, want);
}

/* A whole number, for certain. */
static void is_whole_in(const struct profile *p, const char *s, int64_t want)
{
	struct nc_value v = value_in(p, s);

	if (v.kind != NC_VALUE_EXACT || v.num != want || v.den != 1 || v.rounds)
		fail_msg("%s: kind %u, %lld/%lld, want %lld", s, v.kind, (long long)v.num,
		    (long long)v.den, (long long)want);
}

static void is_whole(const char *s, int64_t want)
{
	is_whole_in(&nist, s, want);
}

static void is_kind(const struct profile *p, const char *s, enum nc_value_kind kind)
{
	struct nc_value v = value_in(p, s);

	if (v.kind != kind)
		fail_msg("%s: kind %u, want %u (%g)", s, v.kind, kind, v.real);
	assert_int_equal(v.why != NULL, kind == NC_VALUE_ALARM);
}

static void is_unknown(const char *s)
{
	is_kind(&nist, s, NC_VALUE_UNKNOWN);
}

/* NISTIR 6556, 3.3.2.3: the worked line on precedence. */
static void test_precedence(void **state)
{
	is("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5);
	is_whole("2 + 3 * 4", 14);
	is_whole("2 * 3 ** 2", 18);
	is_whole("10 - 4 - 3", 3); /* equal precedence from left to right */
	is_whole("2 ** 3 ** 2", 64);
	is_whole("7 MOD 4 * 2", 6);
	is_whole("#1 + 2", 4); /* 3.3.2.2: (#1) + 2 */
	is_whole("#[1 + 2]", 7);
	is_whole("##1 * 8", 3); /* #2 * 8 */
	is_whole("-[1+2]", -3);
	is_whole("5--#1", 7);
	is_whole("1 2 3 + . 5 * 2", 124); /* blanks inside numbers: 3.3 */
}

/* NISTIR 6556, appendix C.2: published input and published value. */
static void test_published(void **state)
{
	static const struct {
		const char *s;
		double want;
	} list[] = {{"[1 + 2]", 3}, {"[1 - 2]", -1}, {"[1 --3]", 4}, {"[2/5]", 0.40},
	    {"[3.0 * 5]", 15}, {"[0 OR 0]", 0}, {"[0 OR 1]", 1}, {"[2 or 2]", 1}, {"[0 AND 0]", 0},
	    {"[0 AND 1]", 0}, {"[2 and 2]", 1}, {"[0 XOR 0]", 0}, {"[0 XOR 1]", 1},
	    {"[2 xor 2]", 0}, {"[15 MOD 4.0]", 3}, {"[1 + 2 * 3 - 4 / 5]", 6.2}, {"sin[30]", 0.5},
	    {"cos[0.0]", 1.0}, {"tan[60.0]", 1.7321}, {"sqrt[3]", 1.7321},
	    {"atan[1.7321]/[1.0]", 60.0}, {"asin[1.0]", 90}, {"acos[0.707107]", 45.0},
	    {"abs[20.0]", 20}, {"abs[-1.23]", 1.23}, {"round[-0.499]", 0}, {"round[-0.5001]", -1},
	    {"round[2.444]", 2}, {"round[9.975]", 10}, {"fix[-0.499]", -1}, {"fix[-0.5001]", -1},
	    {"fix[2.444]", 2}, {"fix[9.975]", 9}, {"fup[-0.499]", 0}, {"fup[-0.5001]", 0},
	    {"fup[2.444]", 3}, {"fup[9.975]", 10}, {"exp[2.3026]", 10}, {"ln[10.0]", 2.3026},
	    {"[2 ** 3.0]", 8}, {"##1", 0.375}, {"sqrt[3**2 + 4**2]", 5.0}};

	for (size_t i = 0; i < sizeof(list) / sizeof(list[0]); i++)
		is(list[i].s, list[i].want);
	/* no value is published for this one; computed from the rules */
	is("[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]",
	    2.000545077939048);
	/* 3.3.2.4 */
	is_whole("FIX[2.8]", 2);
	is_whole("FIX[-2.8]", -3);
	is_whole("FUP[2.8]", 3);
	is_whole("FUP[-2.8]", -2);
	/* the report's program: a remainder is never negative, a half is rounded away from zero */
	is_whole("[-5] MOD 3", 1);
	is_whole("ROUND[2.5]", 3);
	is_whole("ROUND[-2.5]", -3);
}

/* NISTIR 6556, the report's program: what it refuses, a control alarms at. */
static void test_alarms(void **state)
{
	static const char *const list[] = {"1/0", "1/[#1-2]", "5 MOD 0", "[-2]**0.5", "SQRT[-1]",
	    "LN[0]", "LN[-1]", "ASIN[1.5]", "ACOS[-2]", "0**-1", "1 + [2 * [1/0]]", "SIN[1/0]",
	    "#100/0", "[#100/0] AND 0", "#[1/0]", "[1/0] AND 0", "ATAN[1/0]/[1]", "1/0 EQ 1"};

	for (size_t i = 0; i < sizeof(list) / sizeof(list[0]); i++)
		is_kind(&nist, list[i], NC_VALUE_ALARM);
}

/* Comparisons bind weaker than sums in every dialect (common practice). */
static void test_compare(void **state)
{
	static const struct {
		const char *s;
		int64_t want;
	} list[] = {{"#1 EQ 2", 1}, {"#1NE2", 0}, {"1+1 EQ 2", 1}, {"2 GT 1+1", 0}, {"2 GE 1+1", 1},
	    {"2 LT 3", 1}, {"3 LE 2", 0}, {"[-1 LT 0.5]", 1}, {"2EQABS[-2]", 1}, {"0.1 EQ 0.10", 1},
	    {"0.1 LT 0.2", 1}, {"1/3 LT 0.34", 1}, {"1/4 EQ 0.25", 1}, {"SQRT[2] GT 1.41", 1},
	    {"SQRT[16] EQ 4", 1}, {"NOT[1 EQ 2]", 1}, {"#0 EQ #5", 1}, {"#5 EQ 3", 0},
	    {"#5 NE 3", 1}};

	for (size_t i = 0; i < sizeof(list) / sizeof(list[0]); i++) {
		is_whole(list[i].s, list[i].want);
		is_whole_in(&open_dialect, list[i].s, list[i].want);
	}
}

/* Binary arithmetic with 53 bits holds 0.1 + .. + 0.1, ten times, as a neighbour of 1 (IEEE 754);
 * decimal arithmetic holds 1. */
static void test_rounding(void **state)
{
	const char *tenths = "0.1+0.1+0.1+0.1+0.1+0.1+0.1+0.1+0.1+0.1";
	char s[128];
	struct nc_value v = value_in(&nist, tenths);
	uint64_t whole = 0;
	double sum = 0;

	assert_int_equal(v.kind, NC_VALUE_EXACT);
	assert_true(v.num == 1 && v.den == 1 && v.rounds);
	assert_true(nc_value_whole(&v, &whole) && whole == 1); /* 3.3.2.1: within 0.0001 */
	for (int i = 0; i < 10; i++)
		sum += 0.1;
	assert_true(sum != 1 && fabs(sum - 1) < v.off);
	for (const char *const *op =
	         (const char *const[]){"EQ", "NE", "GE", "GT", "LE", "LT", NULL};
	     *op; op++) {
		snprintf(s, sizeof(s), "[%s]%s 1", tenths, *op);
		is_unknown(s);
		snprintf(s, sizeof(s), "FIX[%s]%s 9", tenths, *op);
		is_unknown(s);
	}
	snprintf(s, sizeof(s), "[%s] LT 1.001", tenths);
	is_whole(s, 1);
	snprintf(s, sizeof(s), "ROUND[%s]", tenths);
	is_whole(s, 1);
	is_unknown("ROUND[0.1 * 25]"); /* on the edge between 2 and 3 */
	is_unknown("1/[0.3 - 0.1 * 3]");
	is_unknown("SIN[30] EQ 0.5");
	is_whole("SIN[30] LT 0.5001", 1);
	is_unknown("SQRT[2]*SQRT[2] EQ 2");
	is_whole("0.5 + 0.25 EQ 0.75", 1); /* binary fractions stay exact */
	is_whole("[1/4 + 3/4] EQ 1", 1);
	/* what a large number took away is lost: the difference is 0 in 53 bits */
	is_unknown("[1000000000000 + 0.00001 - 1000000000000] GT 0");
}

static void test_overflow(void **state)
{
	struct nc_value v = value_in(&nist, "9000000000000000000 + 9000000000000000000");
	int64_t m;
	uint8_t scale;

	assert_int_equal(v.kind, NC_VALUE_NEAR);
	assert_true(fabs(v.real - 1.8e19) <= v.off);
	assert_false(nc_value_decimal(&v, &m, &scale));
	is_kind(&nist, "10 ** 40", NC_VALUE_NEAR);
	is_unknown("[10 ** 60] ** 60 ** 60");
	is_unknown("EXP[100000]");
	is_kind(&nist, "1/9000000000000000000/9000000000000000000", NC_VALUE_NEAR);
	is_whole("10 ** 40 GT 5", 1);
	is_whole("4611686018427387904 LT 4611686018427387904 * 2.5", 1);
}

/* FIX[-2.8] is -3 in NISTIR 6556, 3.3.2.4, and -2 elsewhere (common practice); 2 AND 1 is 1 there
 * and 0 bit by bit. */
static void test_dialects(void **state)
{
	struct profile p = open_dialect;

	is_kind(&p, "FIX[-2.8]", NC_VALUE_UNKNOWN);
	is_kind(&p, "FUP[-2.8]", NC_VALUE_UNKNOWN);
	is_whole_in(&p, "FIX[2.8]", 2); /* both readings agree */
	is_whole_in(&p, "FUP[2.8]", 3);
	is_whole_in(&p, "FIX[-3]", -3);
	is_whole_in(&p, "FIX[-2.8] LT 0", 1);
	is_kind(&p, "[-5] MOD 3", NC_VALUE_UNKNOWN);
	is_whole_in(&p, "5 MOD 3", 2);
	is_kind(&p, "2 AND 1", NC_VALUE_UNKNOWN);
	is_whole_in(&p, "3 AND 0", 0);
	is_whole_in(&p, "#4 EQ 1 OR 0", 1);
	is_kind(&p, "1 OR 1 EQ 0", NC_VALUE_UNKNOWN); /* [1 OR 1] EQ 0, or 1 OR [1 EQ 0] */
	is_whole_in(&p, "[1 OR 1] EQ 0", 0);
	is_kind(&p, "1 OR 0 AND 0", NC_VALUE_UNKNOWN);
	is_whole_in(&p, "[#4 EQ 1] OR [#100 EQ 2]", 1); /* whatever #100 holds */
	is_whole_in(&p, "[#4 EQ 2] AND #100", 0);
	p.fix = PROFILE_FIX_ZERO;
	is_whole_in(&p, "FIX[-2.8]", -2);
	is_whole_in(&p, "FUP[-2.8]", -3);
	is_whole_in(&p, "FUP[2.1]", 3);
	p.truth = PROFILE_TRUTH_BITS;
	is_whole_in(&p, "[6 AND 3]", 2);
	is_whole_in(&p, "[6 OR 3]", 7);
	is_whole_in(&p, "[6 XOR 3]", 5);
	is_kind(&p, "NOT[6]", NC_VALUE_UNKNOWN);
	p.logic = PROFILE_LOGIC_LAST;
	is_whole_in(&p, "1 OR 1 EQ 0", 1);
	is_whole_in(&p, "#1 EQ 2 AND #3 EQ 7", 1);
	p.logic = PROFILE_LOGIC_PRODUCT;
	is_whole_in(&p, "1 OR 0 AND 0", 1);
	is_whole_in(&p, "1 + 1 AND 3", 2); /* 1 + [1 AND 3] */
	p.logic = PROFILE_LOGIC_SUM;
	is_whole_in(&p, "1 OR 0 AND 0", 0);
	is_whole_in(&p, "1 + 1 AND 3", 2); /* [1 + 1] AND 3 */
	is_whole_in(&p, "BIN[18]", 12);    /* common practice: 18 is 0x12 */
	is_whole_in(&p, "BCD[12]", 18);
	is_kind(&p, "BIN[10]", NC_VALUE_UNKNOWN); /* 0xA is no decimal digit */
}

/* What the program does not hold, and what follows from it. */
static void test_unknown(void **state)
{
	static const char *const list[] = {"#100", "#100+1", "SIN[#100]", "#[#100]", "#5+1", "-#5",
	    "#100 EQ #100", "#1 EQ #100", "#100*0", "ATAN[-1]/[1]", "TAN[90]", "##100", "#5 EQ 0",
	    "#[0.5]", "0**0",
	    /* what is computed without need may alarm */
	    "[1/#100] AND 0", "[SQRT[#100] EQ 2] AND 0", "[#4 EQ 1] OR #[#100]"};

	for (size_t i = 0; i < sizeof(list) / sizeof(list[0]); i++)
		is_unknown(list[i]);
	is_kind(&nist, "#0", NC_VALUE_VACANT);
	is_whole("ATAN[3,3] EQ 50", 0);
	is("ATAN[1,1]", 45);
	is("ATAN[1]", 45);
	is("ATAN[1]/[-1]", 135);
}

static int64_t read(const char *s, bool sum, size_t *used, struct nc_pool *pool)
{
	return sum ? nc_expr_sum(pool, s, strlen(s), used)
	           : nc_expr_value(pool, s, strlen(s), used);
}

static void test_text(void **state)
{
	static const char *const bad[] = {"", " ", "[", "[]", "[1", "[1+]", "[1 2 X]", "1..2", ".",
	    "#", "#X", "#1.5", "#-1", "SIN", "SIN 30", "SIN[1,2]", "FOO[1]", "ATAN[1]/2",
	    "ATAN[1,2,3]", "12345678901234567890", "]", "NOT 1", "[1;]", "#########1"};
	static const struct {
		const char *s;
		bool sum;
		size_t used;
	} part[] = {{"#1+2", false, 2}, {"#1+2", true, 4}, {"-[#1]Z5", false, 5},
	    {"6 G1 x#3", true, 1}, {"15 #3=6", true, 2}, {"ATAN[1] / [2]X", false, 13},
	    {"1.5M3", true, 3}, {"[1]]", true, 3}, {"5(note)", true, 1}, {"5 MOD", true, 0}};
	struct nc_pool pool = {0};
	size_t used;

	for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++) {
		if (read(bad[i], true, &used, &pool) != NC_EXPR_NONE)
			fail_msg("read: %s", bad[i]);
		assert_int_equal(pool.n, 0);
	}
	for (size_t i = 0; i < sizeof(part) / sizeof(part[0]); i++) {
		used = 0;
		if (read(part[i].s, part[i].sum, &used, &pool) < 0 && part[i].used)
			fail_msg("not read: %s", part[i].s);
		if (used != part[i].used)
			fail_msg("%s: used %zu, want %zu", part[i].s, used, part[i].used);
	}
	nc_pool_free(&pool);
}

/* n times open, middle, n times close, as a string that the caller frees. */
static char *nested(size_t n, const char *open, const char *middle, const char *close)
{
	char *s = malloc(n * (strlen(open) + strlen(close)) + strlen(middle) + 1), *p = s;

	assert_non_null(s);
	for (size_t i = 0; i < n; i++)
		p = stpcpy(p, open);
	p = stpcpy(p, middle);
	for (size_t i = 0; i < n; i++)
		p = stpcpy(p, close);
	return s;
}

static void test_hostile(void **state)
{
	static const char *const open[] = {
	    "[", "1+2*3**[", "-########[", "ATAN[", "ABS[", "1 EQ 1 AND 1 OR 1+1*1**-########["};
	struct nc_pool pool = {0};
	size_t used;
	char *s;

	for (size_t i = 0; i < sizeof(open) / sizeof(open[0]); i++) {
		const char *close = strcmp(open[i], "ATAN[") == 0 ? "]/[1]" : "]";

		s = nested(NC_EXPR_DEPTH, open[i], "1", close);
		assert_true(value_in(&open_dialect, s).kind <= NC_VALUE_ALARM);
		free(s);
		s = nested(NC_EXPR_DEPTH + 1, open[i], "1", close);
		assert_int_equal(read(s, true, &used, &pool), NC_EXPR_NONE);
		free(s);
	}
	s = nested(20000, "+1", "", "");
	is_whole(s, 20000);
	free(s);
	s = nested(20000, "-", "1", "");
	is_whole(s, 1);
	free(s);
	nc_pool_free(&pool);
}

static void test_reads(void **state)
{
	static const struct {
		const char *s;
		uint64_t set;
	} list[] = {{"1+2.5", 0}, {"#1+#33", 1ull << 1 | 1ull << 33}, {"#34", 0}, {"#500", 0},
	    {"##2", 1 | 1 << 2}, {"#[#4+1]", 1 | 1 << 4}, {"SIN[#7]", 1 << 7}, {"#0", 0}};
	struct nc_pool pool = {0};
	size_t used;

	for (size_t i = 0; i < sizeof(list) / sizeof(list[0]); i++) {
		int64_t e = read(list[i].s, true, &used, &pool);

		assert_true(e >= 0);
		if (nc_expr_reads(&pool, (uint32_t)e) != list[i].set)
			fail_msg("%s", list[i].s);
		assert_int_equal(
		    nc_expr_is_constant(&pool, (uint32_t)e), strchr(list[i].s, '#') == NULL);
	}
	nc_pool_free(&pool);
}

static void test_values(void **state)
{
	struct nc_value v = value_in(&nist, "-12.5"), w = value_in(&nist, "1/3");
	int64_t m;
	uint8_t scale;
	uint64_t whole;

	assert_true(nc_value_decimal(&v, &m, &scale) && m == -125 && scale == 1);
	assert_true(nc_value_decimal(&w, &m, &scale) && m == 333333 && scale == 6);
	assert_true(nc_value_same(&v, &v) && !nc_value_same(&v, &w));
	assert_false(nc_value_whole(&v, &whole));
	v = value_in(&nist, "1.00005"); /* written so: no control may take it for 1 */
	assert_false(nc_value_whole(&v, &whole));
	v = nc_value_int(INT64_MIN);
	assert_int_equal(v.kind, NC_VALUE_NEAR);
	v = nc_value_unknown();
	assert_int_equal(nc_value_truth(&v), -1);
	assert_false(nc_value_decimal(&v, &m, &scale));
	v = value_in(&nist, "0.1*3-0.3");
	assert_int_equal(nc_value_truth(&v), -1);
	v = value_in(&nist, "-0.001");
	assert_int_equal(nc_value_truth(&v), 1);
	v = nc_value_int(0);
	assert_int_equal(nc_value_truth(&v), 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_precedence),
	    cmocka_unit_test(test_published),
	    cmocka_unit_test(test_alarms),
	    cmocka_unit_test(test_compare),
	    cmocka_unit_test(test_rounding),
	    cmocka_unit_test(test_overflow),
	    cmocka_unit_test(test_dialects),
	    cmocka_unit_test(test_unknown),
	    cmocka_unit_test(test_text),
	    cmocka_unit_test(test_hostile),
	    cmocka_unit_test(test_reads),
	    cmocka_unit_test(test_values),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
