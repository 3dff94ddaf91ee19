/*
 * Goal: a table loses no character whatever the width, and a CSV reader gets back what was written.
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
#include "csv.h"
#include "out.h"
#include "table.h"

static char written[1 << 16];

/* What table_out writes to stdout, by way of a file in its place. */
static void write_table(struct table *t)
{
	FILE *f = tmpfile();
	int kept = dup(STDOUT_FILENO);
	size_t n;

	assert_non_null(f);
	fflush(stdout);
	dup2(fileno(f), STDOUT_FILENO);
	table_out(t, "empty");
	fflush(stdout);
	dup2(kept, STDOUT_FILENO);
	close(kept);
	rewind(f);
	n = fread(written, 1, sizeof(written) - 1, f);
	written[n] = '\0';
	fclose(f);
}

/* Every character of s that is no blank occurs in written, in this order. */
static bool holds(const char *s)
{
	const char *at = written;

	for (; *s; s++) {
		if (*s == ' ')
			continue;
		at = strchr(at, *s);
		if (!at)
			return false;
		at++;
	}
	return true;
}

static void test_wraps(void **state)
{
	static const char *const heads[] = {"A", "B"};
	static const char cell[] =
	    "abcdefghijklmnopqrstuvwxyz 0123456789 ABCDEFGHIJKLMNOPQRSTUVWXYZ";
	char columns[16];

	for (int width = 20; width <= 100; width++) {
		struct table *t = table_new(heads, 2);

		snprintf(columns, sizeof(columns), "%d", width);
		setenv("COLUMNS", columns, 1);
		out_start();
		table_cell(t, "x");
		table_cell(t, cell);
		table_note(t, cell);
		table_cell(t, "");
		table_cell(t, "y");
		write_table(t);
		assert_true(holds(cell));
		for (char *s = strtok(written, "\n"); s; s = strtok(NULL, "\n"))
			assert_true(strlen(s) <= (size_t)width);
	}
}

static void test_empty(void **state)
{
	static const char *const heads[] = {"A"};

	write_table(table_new(heads, 1));
	assert_string_equal(written, "empty\n");
}

/* Unicode: a Greek letter has one column, an ideograph two (UAX #11); a combining accent none. */
static void test_width(void **state)
{
	setenv("LC_ALL", "C.UTF-8", 1);
	out_start();
	assert_int_equal(table_width("a\316\261b"), 3);
	assert_int_equal(table_width("\344\270\200"), 2);
	assert_int_equal(table_width("e\314\201"), 1);
	assert_int_equal(table_fit("\344\270\200\344\270\200", 3), 3);
	assert_int_equal(table_fit("abc", 2), 2);
	assert_int_equal(table_fit("abc", 3), 3);
	/* Without UTF-8 each of its bytes is written as <hh>. */
	setenv("LC_ALL", "C", 1);
	out_start();
	assert_int_equal(table_width("\316\261"), 8);
}

/* The records of RFC 4180, section 2, rules 5 to 7, and what has to be quoted for them. */
static void test_csv(void **state)
{
	static const struct {
		const char *field, *written;
	} cases[] = {
	    {"aaa", "aaa"},
	    {"b\"bb", "\"b\"\"bb\""},
	    {"b,bb", "\"b,bb\""},
	    {"", ""},
	    {" a ", " a "},
	    {"\"", "\"\"\"\""},
	    {"b\r\nbb", "b<0D><0A>bb"},
	    {"\377", "<FF>"},
	    {"=SUM(A1)", "'=SUM(A1)"},
	    {"@x,y", "\"'@x,y\""},
	    {"a=b", "a=b"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct text t = {0};

		csv_field(&t, cases[i].field, true);
		csv_field(&t, "z", false);
		csv_end(&t);
		assert_int_equal(strncmp(t.s, cases[i].written, strlen(cases[i].written)), 0);
		assert_string_equal(t.s + strlen(cases[i].written), ",z\r\n");
		text_free(&t);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_wraps),
	    cmocka_unit_test(test_empty),
	    cmocka_unit_test(test_width),
	    cmocka_unit_test(test_csv),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
