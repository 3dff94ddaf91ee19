/*
 * Goal: nothing that a configuration file can contain is cut, joined or passed over in silence;
 * every bad line is told with its number, and what is well stays readable.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "conf_file.h"
#include "scratch.h"

static struct conf_file file;
static struct conf_report report;

static void parse_bytes(const char *bytes, size_t n)
{
	size_t errors;

	conf_file_free(&file);
	conf_report_free(&report);
	errors = conf_file_parse("a.conf", bytes, n, &file, &report) < 0;
	assert_int_equal(errors, report.errors > 0);
}

static void parse(const char *s)
{
	parse_bytes(s, strlen(s));
}

static void expect(const char *message)
{
	if (!report.text.s || !strstr(report.text.s, message))
		fail_msg(
		    "expected: %s\ngot: %s", message, report.text.s ? report.text.s : "(nothing)");
}

static void entry(size_t i, const char *section, const char *key, const char *value, unsigned line)
{
	assert_true(i < file.n);
	assert_string_equal(file.v[i].section, section);
	assert_string_equal(file.v[i].key, key);
	assert_string_equal(file.v[i].value, value);
	assert_int_equal(file.v[i].line, line);
}

static void test_plain(void **state)
{
	parse("\xEF\xBB\xBF# comment\r\n\r\n[yoke]\r\n  settle_ms\t=\t5 ; five\r\nsocket = a b\r\n"
	      "[line upper] ; mine\nheader = (JOB {job} REV {rev})");
	assert_int_equal(report.errors, 0);
	assert_int_equal(file.n, 3);
	entry(0, "yoke", "settle_ms", "5", 4);
	entry(1, "yoke", "socket", "a b", 5);
	entry(2, "line upper", "header", "(JOB {job} REV {rev})", 7);
}

/* inih itself reports the first bad line only, and joins an indented line to the value above. */
static void test_every_error(void **state)
{
	parse("[yoke]\nnonsense\nsettle_ms = 1\n    poll_ms = 2\n= 3\nmore nonsense\n[open\n[a] b "
	      "= 1\n");
	assert_int_equal(report.errors, 5);
	expect("a.conf:2: error: neither a [section]");
	expect("a.conf:5: error: no key");
	expect("a.conf:6: error: neither");
	expect("a.conf:7: error: the section's name is not closed");
	expect("a.conf:8: error: text after the section's ]");
	assert_int_equal(file.n, 2);
	entry(1, "yoke", "poll_ms", "2", 4);
}

static void test_last_line(void **state)
{
	parse("[yoke]\nnonsense");
	expect("a.conf:2: error: neither");
}

static void test_before_section(void **state)
{
	parse("a = 1\n");
	expect("a.conf:1: error: 'a' stands before the first [section]");
}

static void test_doubled(void **state)
{
	parse("[yoke]\na = 1\n[line]\na = 2\n[yoke]\na = 3\n");
	assert_int_equal(report.errors, 1);
	expect("a.conf:6: error: 'a' stands twice in [yoke], first in line 2");
	assert_int_equal(file.n, 2);
	entry(0, "yoke", "a", "1", 2);
}

/* inih cuts what does not fit and reads the rest as another line. */
static void test_long_lines(void **state)
{
	char *long_line = malloc(70000);

	assert_non_null(long_line);
	memset(long_line, 'x', 70000);
	memcpy(long_line, "[a]\nk = ", 8);
	memcpy(long_line + 69990, "\nm = 1\n", 8);
	parse(long_line);
	assert_int_equal(report.errors, 1);
	expect("a.conf:2: error: the line is 69986 bytes long");
	assert_int_equal(file.n, 1);
	entry(0, "a", "m", "1", 3);
	free(long_line);
	parse("[aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa]\n");
	expect("a.conf:1: error: the section's name is too long");
}

static void test_bytes(void **state)
{
	parse_bytes("[a]\nk = 1\0002\nl = \x1b[31m\nm = \xff\nn = gr\xc3\xbc\xc3\x9f\n", 38);
	assert_int_equal(report.errors, 3);
	expect("a.conf:2: error: control characters, NUL or bytes that are not UTF-8");
	expect("a.conf:3: error: control");
	expect("a.conf:4: error: control");
	assert_null(strchr(report.text.s, 0x1b));
	assert_int_equal(file.n, 1);
	entry(0, "a", "n", "gr\xc3\xbc\xc3\x9f", 5);
}

static void test_files(void **state)
{
	char *huge = malloc(CONF_FILE_MAX + 1);

	conf_file_free(&file);
	conf_report_free(&report);
	assert_int_equal(conf_file_read(scratch_path(state, "none"), &file, &report), -1);
	expect("cannot be opened: No such file");
	conf_file_free(&file);
	assert_int_equal(conf_file_read(*state, &file, &report), -1);
	expect("is not a file");
	conf_file_free(&file);
	assert_non_null(huge);
	memset(huge, '\n', CONF_FILE_MAX + 1);
	assert_int_equal(
	    conf_file_read(scratch_bytes(state, "huge", huge, CONF_FILE_MAX + 1), &file, &report),
	    -1);
	expect("is larger than");
	conf_file_free(&file);
	free(huge);
	conf_report_free(&report);
	assert_int_equal(conf_file_read(scratch_file(state, "empty", ""), &file, &report), 0);
	assert_int_equal(file.n, 0);
}

static void test_many(void **state)
{
	struct text t = {0};

	text_puts(&t, "[a]\n");
	for (int i = 0; i < CONF_FILE_ENTRIES + 3; i++)
		text_printf(&t, "k%d = 1\n", i);
	parse(t.s);
	assert_int_equal(report.errors, 1);
	expect("a.conf:4098: error: more than 4096 settings");
	assert_int_equal(file.n, CONF_FILE_ENTRIES);
	text_free(&t);
}

/* Whatever the bytes: no crash, no hang, and each error has a line. */
static void test_noise(void **state)
{
	static const char alphabet[] = "[]=:;# \t\n\r\0ab\xff";
	uint32_t x = 1;

	for (int round = 0; round < 2000; round++) {
		char noise[120];

		for (size_t i = 0; i < sizeof(noise); i++) {
			x = x * 1664525u + 1013904223u;
			noise[i] = alphabet[(x >> 16) % (sizeof(alphabet) - 1)];
		}
		parse_bytes(noise, sizeof(noise));
	}
}

static int finish(void **state)
{
	conf_file_free(&file);
	conf_report_free(&report);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_plain),
	    cmocka_unit_test(test_every_error),
	    cmocka_unit_test(test_last_line),
	    cmocka_unit_test(test_before_section),
	    cmocka_unit_test(test_doubled),
	    cmocka_unit_test(test_long_lines),
	    cmocka_unit_test(test_bytes),
	    cmocka_unit_test_setup_teardown(test_files, scratch_setup, scratch_teardown),
	    cmocka_unit_test(test_many),
	    cmocka_unit_test(test_noise),
	};

	return cmocka_run_group_tests(tests, NULL, finish);
}
