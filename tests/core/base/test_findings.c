/* Goal: findings have unique names and an explanation, keep their order, obey weights, and stay
 * bounded per kind. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "findings.h"

static void names(void **state)
{
	for (int i = 0; i < FINDING_COUNT; i++) {
		enum finding_id id = (enum finding_id)i;
		const char *name = finding_name(id);
		assert_int_equal(finding_by_name(name), id);
		assert_int_equal(
		    strspn(name, "abcdefghijklmnopqrstuvwxyz-0123456789"), strlen(name));
		assert_true(strlen(finding_why(id)) > 10);
		assert_true(finding_weight(id) > WEIGHT_OFF && finding_weight(id) <= WEIGHT_REFUSE);
	}
	assert_int_equal(finding_by_name("no-such-finding"), FINDING_COUNT);
	assert_int_equal(finding_by_name(""), FINDING_COUNT);
}

static void weights(void **state)
{
	enum weight w = WEIGHT_OFF;

	for (int i = WEIGHT_OFF; i <= WEIGHT_REFUSE; i++) {
		assert_true(finding_weight_parse(finding_weight_name((enum weight)i), &w));
		assert_int_equal(w, i);
	}
	assert_string_equal(finding_weight_name(WEIGHT_REFUSE), "refuse");
	assert_false(finding_weight_parse("error", &w));
	assert_false(finding_weight_parse("", &w));
}

static void adds(void **state)
{
	struct findings l = {0};
	enum weight w[FINDING_COUNT] = {[FINDING_TAB] = WEIGHT_REFUSE};
	struct finding *f;

	f = findings_add(
	    &l, NULL, FINDING_TAB, &(struct finding_place){0, "a.up", 4, 3}, NULL, "tab %d", 7);
	assert_non_null(f);
	assert_int_equal(f->weight, WEIGHT_WARN);
	assert_string_equal(f->text, "tab 7");
	assert_string_equal(f->remedy, "");
	assert_string_equal(f->file, "a.up");
	assert_int_equal(f->line, 4);
	assert_int_equal(f->col, 3);
	assert_false(f->also);
	findings_place_also(&l, f, "a.lo", 9, 1);
	assert_true(f->also);
	assert_string_equal(f->also_file, "a.lo");
	assert_int_equal(f->also_line, 9);
	f = findings_add(
	    &l, w, FINDING_TAB, &(struct finding_place){-1, NULL, 0, 0}, "use blanks", "x");
	assert_int_equal(f->weight, WEIGHT_REFUSE);
	assert_string_equal(f->file, "");
	assert_int_equal(findings_heaviest(&l), WEIGHT_REFUSE);
	/* weight off: neither kept nor counted */
	assert_null(findings_add(&l, w, FINDING_EMPTY, &(struct finding_place){0}, NULL, "x"));
	findings_place_also(&l, NULL, "a.lo", 1, 1);
	assert_int_equal(l.seen[FINDING_EMPTY], 0);
	assert_int_equal(l.n, 2);
	findings_free(&l);
	assert_int_equal(findings_heaviest(&l), WEIGHT_OFF);
}

/* A damaged file has the same fault in every line: the first ones are kept, all are counted. */
static void bounded(void **state)
{
	struct findings l = {0}, sum = {0};

	for (unsigned i = 1; i <= 1000; i++) {
		struct finding *f = findings_add(&l, NULL, FINDING_CHARACTER,
		    &(struct finding_place){0, "a", i, 1}, "", "line %u", i);
		assert_int_equal(f != NULL, i <= FINDINGS_KEEP);
	}
	assert_non_null(
	    findings_add(&l, NULL, FINDING_TAB, &(struct finding_place){0, "a", 1, 1}, "", "x"));
	assert_int_equal(l.n, FINDINGS_KEEP + 1);
	assert_int_equal(l.seen[FINDING_CHARACTER], 1000);
	findings_append(&sum, &l);
	findings_append(&sum, &l);
	findings_free(&l);
	assert_int_equal(sum.n, 2 * (FINDINGS_KEEP + 1));
	assert_int_equal(sum.seen[FINDING_CHARACTER], 2000);
	assert_string_equal(sum.v[0].text, "line 1");
	findings_free(&sum);
}

static void sorts(void **state)
{
	static const struct finding_place places[] = {{-1, "", 0, 0}, {1, "j.lo", 2, 1},
	    {0, "j.up", 40, 2}, {0, "j.up", 40, 1}, {0, "j.up", 5, 9}, {1, "j.lo", 1, 1},
	    {0, "j.up", 0, 0}};
	static const uint64_t lines[] = {0, 5, 40, 40, 1, 2, 0};
	static const uint32_t cols[] = {0, 9, 1, 2, 1, 1, 0};
	struct findings l = {0};

	for (size_t i = 0; i < 7; i++)
		findings_add(&l, NULL, FINDING_TAB, &places[i], "", "x");
	findings_sort(&l);
	for (size_t i = 0; i < 7; i++) {
		assert_int_equal(l.v[i].line, lines[i]);
		assert_int_equal(l.v[i].col, cols[i]);
	}
	assert_string_equal(l.v[0].file, "j.up");
	assert_string_equal(l.v[6].file, "");
	findings_free(&l);
	findings_sort(&l);
}

/* What a list has already is neither added nor counted again. */
static void append_new(void **state)
{
	const struct finding_place at = {0, "a.nc", 4, 3}, other = {1, "a.nc", 5, 3};
	struct findings l = {0}, from = {0};

	findings_add(&l, NULL, FINDING_TAB, &at, NULL, "tab");
	findings_add(
	    &from, NULL, FINDING_TAB, &(struct finding_place){1, "a.nc", 4, 3}, NULL, "tab");
	findings_add(&from, NULL, FINDING_TAB, &other, NULL, "tab");
	findings_add(&from, NULL, FINDING_TAB, &at, NULL, "another tab");
	findings_add(&from, NULL, FINDING_EMPTY, &at, NULL, "tab");
	findings_append_new(&l, &from);
	assert_int_equal(l.n, 4);
	assert_int_equal(l.seen[FINDING_TAB], 3);
	assert_int_equal(l.seen[FINDING_EMPTY], 1);
	findings_free(&l);
	findings_free(&from);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(names),
	    cmocka_unit_test(weights),
	    cmocka_unit_test(adds),
	    cmocka_unit_test(bounded),
	    cmocka_unit_test(sorts),
	    cmocka_unit_test(append_new),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
