/*
 * Goal: what is marked as common is common and in order, and no smaller difference exists. The
 * outside: `diff --minimal` (diffutils) counts the lines of the same sequences; on tiny ones a
 * table of all common sequences is computed here.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "change_diff.h"

enum { LENGTH = 400 };

static uint32_t seed = 12345;

static uint32_t roll(uint32_t n)
{
	seed = seed * 1664525u + 1013904223u;
	return (seed >> 10) % n;
}

/* The number of marks, after checking that what is not marked is equal. */
static size_t marks(const uint64_t *a, size_t an, const uint64_t *b, size_t bn)
{
	uint8_t ag[LENGTH + 1], bg[LENGTH + 1];
	size_t count = 0, i = 0, k = 0;

	assert_int_equal(change_diff(a, an, ag, b, bn, bg), 0);
	for (;;) {
		while (i < an && ag[i]) {
			count++;
			i++;
		}
		while (k < bn && bg[k]) {
			count++;
			k++;
		}
		if (i == an || k == bn)
			break;
		assert_true(a[i] == b[k]);
		i++;
		k++;
	}
	assert_true(i == an && k == bn);
	return count;
}

/* The longest common sequence by the plain quadratic table. */
static size_t by_table(const uint64_t *a, size_t an, const uint64_t *b, size_t bn)
{
	static size_t t[LENGTH + 1][LENGTH + 1];

	for (size_t i = an + 1; i-- > 0;)
		for (size_t k = bn + 1; k-- > 0;)
			if (i == an || k == bn)
				t[i][k] = 0;
			else if (a[i] == b[k])
				t[i][k] = t[i + 1][k + 1] + 1;
			else
				t[i][k] = t[i + 1][k] > t[i][k + 1] ? t[i + 1][k] : t[i][k + 1];
	return an + bn - 2 * t[0][0];
}

static size_t random_side(uint64_t *v, size_t most, uint32_t letters)
{
	size_t n = roll((uint32_t)most + 1);

	for (size_t i = 0; i < n; i++)
		v[i] = roll(letters);
	return n;
}

static void test_table(void **state)
{
	uint64_t a[LENGTH], b[LENGTH];

	for (int round = 0; round < 20000; round++) {
		size_t an = random_side(a, 12, 1 + roll(5)), bn = random_side(b, 12, 1 + roll(5));

		assert_int_equal(marks(a, an, b, bn), by_table(a, an, b, bn));
	}
	for (int round = 0; round < 100; round++) {
		size_t an = random_side(a, LENGTH, 2 + roll(30)),
		       bn = random_side(b, LENGTH, 2 + roll(30));

		assert_int_equal(marks(a, an, b, bn), by_table(a, an, b, bn));
	}
}

static void write_lines(const char *path, const uint64_t *v, size_t n)
{
	FILE *f = fopen(path, "w");

	assert_non_null(f);
	for (size_t i = 0; i < n; i++)
		fprintf(f, "%u\n", (unsigned)v[i]);
	assert_int_equal(fclose(f), 0);
}

static size_t by_tool(
    const char *folder, const uint64_t *a, size_t an, const uint64_t *b, size_t bn)
{
	char x[64], y[64], command[300];
	FILE *tool;
	unsigned count;

	snprintf(x, sizeof(x), "%s/a", folder);
	snprintf(y, sizeof(y), "%s/b", folder);
	write_lines(x, a, an);
	write_lines(y, b, bn);
	snprintf(command, sizeof(command), "diff --minimal %s %s | grep -c '^[<>]'", x, y);
	tool = popen(command, "r");
	assert_non_null(tool);
	assert_int_equal(fscanf(tool, "%u", &count), 1);
	pclose(tool);
	remove(x);
	remove(y);
	return count;
}

static void test_tool(void **state)
{
	char folder[] = "/tmp/yoke-diff-XXXXXX";
	uint64_t a[LENGTH], b[LENGTH];

	assert_non_null(mkdtemp(folder));
	for (int round = 0; round < 60; round++) {
		size_t an = random_side(a, LENGTH - 50, 20), bn = 0;

		/* b is a with edits: the way programs really change */
		for (size_t i = 0; i < an; i++) {
			if (roll(10) == 0)
				b[bn++] = roll(20);
			if (roll(10) != 0)
				b[bn++] = a[i];
			if (bn >= LENGTH - 1)
				break;
		}
		assert_int_equal(marks(a, an, b, bn), by_tool(folder, a, an, b, bn));
	}
	rmdir(folder);
}

static void test_edges(void **state)
{
	uint64_t a[] = {1, 2, 3}, b[] = {4, 5};

	assert_int_equal(marks(a, 0, b, 0), 0);
	assert_int_equal(marks(a, 3, b, 0), 3);
	assert_int_equal(marks(a, 0, b, 2), 2);
	assert_int_equal(marks(a, 3, b, 2), 5);
	assert_int_equal(marks(a, 3, a, 3), 0);
}

/* Two long sequences with nearly nothing in order: an answer within the bound on work, and a right
 * one. */
static void test_hostile(void **state)
{
	enum { LONG = 300000 };
	uint64_t *a = malloc(LONG * sizeof(*a)), *b = malloc(LONG * sizeof(*b));
	uint8_t *ag = malloc(LONG), *bg = malloc(LONG);
	size_t i = 0, k = 0, common = 0;

	assert_true(a && b && ag && bg);
	for (size_t j = 0; j < LONG; j++) {
		a[j] = roll(1000);
		b[j] = roll(1000);
	}
	assert_int_equal(change_diff(a, LONG, ag, b, LONG, bg), 0);
	for (;;) {
		while (i < LONG && ag[i])
			i++;
		while (k < LONG && bg[k])
			k++;
		if (i == LONG || k == LONG)
			break;
		assert_true(a[i++] == b[k++]);
		common++;
	}
	assert_true(i == LONG && k == LONG && common > 0);
	free(a);
	free(b);
	free(ag);
	free(bg);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_edges),
	    cmocka_unit_test(test_table),
	    cmocka_unit_test(test_tool),
	    cmocka_unit_test(test_hostile),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
