/*
 * Goal: names and header comments are read as people write them, unusable patterns are told with a
 * reason, and no pattern or name, however hostile, takes more than a moment.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "pattern.h"

/* "job/rev/channel/number" of a match, - where the pattern has none; "no" without match. */
static const char *shown(bool matched, const struct pattern_match *m)
{
	static char out[1024];
	size_t n = 0;

	if (!matched)
		return "no";
	for (int i = 0; i < PATTERN_FIELDS; i++) {
		const struct pattern_value *v = &m->field[i];

		if (i)
			out[n++] = '/';
		if (!v->s)
			out[n++] = '-';
		for (size_t k = 0; k < v->n; k++)
			out[n++] = v->s[k];
	}
	out[n] = '\0';
	return out;
}

static const char *name(const char *pattern, const char *file)
{
	struct pattern_match m;
	bool ok = pattern_name(pattern, file, &m);

	return shown(ok, &m);
}

static const char *header(const char *pattern, const char *comment)
{
	struct pattern_match m;
	bool ok = pattern_header(pattern, comment, strlen(comment), &m);

	return shown(ok, &m);
}

static void names_are_read(void **state)
{
	const char *d = "{job}-{rev}.{channel}.nc";

	assert_string_equal(name(d, "J4417-C.upper.nc"), "J4417/C/upper/-");
	assert_string_equal(name(d, "/share/programs/L1/J4417-C.upper.nc"), "J4417/C/upper/-");
	assert_string_equal(name(d, "J4417-C.UPPER.NC"), "J4417/C/UPPER/-");
	assert_string_equal(name("{job}.{channel}", "J4417.UP"), "J4417/-/UP/-");
	assert_string_equal(name("O{number}.{channel}", "o4417.lo"), "-/-/lo/4417");
	assert_string_equal(
	    name("{job}_R{rev}_{channel}_{number}.txt", "J1_R2_U_7.txt"), "J1/2/U/7");
	assert_string_equal(name("{job}", "J4417"), "J4417/-/-/-");
}

static void names_without_match(void **state)
{
	const char *d = "{job}-{rev}.{channel}.nc";

	assert_string_equal(name(d, ""), "no");
	assert_string_equal(name(d, "/"), "no");
	assert_string_equal(name(d, "-C.upper.nc"), "no");
	assert_string_equal(name(d, "J4417-.upper.nc"), "no");
	assert_string_equal(name(d, "J4417-C..nc"), "no");
	assert_string_equal(name(d, "J4417-C.upper.ncx"), "no");
	assert_string_equal(name(d, "J4417-C.upper.nc/"), "no");
	assert_string_equal(name("a{job}a", "a"), "no");
	assert_string_equal(name("a{job}a", "aa"), "no");
	assert_string_equal(name("a{job}a", "aaa"), "a/-/-/-");
	assert_string_equal(name("plain", "plain"), "-/-/-/-");
}

static void earlier_placeholders_take_most(void **state)
{
	assert_string_equal(name("{job}-{rev}.nc", "A-B-C.nc"), "A-B/C/-/-");
	assert_string_equal(name("{job}-{rev}-{channel}", "A----U"), "A-/-/U/-");
	/* The last place of a text is not always usable: each placeholder needs a byte. */
	assert_string_equal(name("{job}--{rev}", "A---"), "A/-/-/-");
	assert_string_equal(name("{job}.nc{rev}", "J.nc.ncC"), "J.nc/C/-/-");
}

static void headers_are_read(void **state)
{
	const char *d = "(JOB {job} REV {rev} {channel})";

	assert_string_equal(header(d, "JOB J4417 REV C UPPER"), "J4417/C/UPPER/-");
	assert_string_equal(header(d, "  job  J4417\tRev   c  lower "), "J4417/c/lower/-");
	assert_string_equal(header(d, "JOB: J4417, REV: C, UPPER"), "J4417/C/UPPER/-");
	assert_string_equal(header(d, "JOB=J4417 REV=C;UPPER"), "J4417/C/UPPER/-");
	assert_string_equal(
	    header("({job} {channel} REV {rev})", "J4417 UPPER REV D"), "J4417/D/UPPER/-");
	assert_string_equal(header("(REV {rev})", "REV C"), "-/C/-/-");
	assert_string_equal(header("({job}-{rev}/{channel})", "J-44-C/UP"), "J-44/C/UP/-");
}

static void headers_without_match(void **state)
{
	const char *d = "(JOB {job} REV {rev} {channel})";

	assert_string_equal(header(d, ""), "no");
	assert_string_equal(header(d, "JOB J4417 REV C"), "no");
	assert_string_equal(header(d, "JOB J4417 REV C UPPER OP10"), "no");
	assert_string_equal(header(d, "NEW JOB J4417 REV C UPPER"), "no");
	assert_string_equal(header(d, "JOBJ4417 REV C UPPER"), "no");
	assert_string_equal(header("(REV {rev})", "REVC"), "no");
	assert_string_equal(header("(REV {rev})", "PREV C"), "no");
}

static void header_without_parentheses_is_looked_for(void **state)
{
	assert_string_equal(header("REV {rev}", "BUSH 30 DIA REV C STEEL"), "-/C/-/-");
	assert_string_equal(header("REV {rev}", "REV C"), "-/C/-/-");
	assert_string_equal(header("REV {rev}", "PREV C"), "no");
	assert_string_equal(header("(REV {rev}", "REV C STEEL"), "-/C/-/-");
	assert_string_equal(header("(REV {rev}", "BUSH REV C"), "no");
	assert_string_equal(header("REV {rev})", "REV A REV C"), "-/C/-/-");
	assert_string_equal(header("REV {rev})", "REV C STEEL"), "no");
}

static void check_name(const char *pattern, const char *part_of_why)
{
	struct text why = {0};
	bool ok = pattern_check_name(pattern, &why);

	assert_int_equal(ok, part_of_why == NULL);
	if (part_of_why) {
		assert_non_null(why.s);
		if (!strstr(why.s, part_of_why))
			fail_msg("'%s' says: %s", pattern, why.s);
	} else {
		assert_int_equal(why.n, 0);
	}
	text_free(&why);
}

static void unusable_patterns_are_told(void **state)
{
	char longer[PATTERN_MAX + 10];

	check_name("{job}-{rev}.{channel}.nc", NULL);
	check_name("O{number}", NULL);
	check_name("", "no placeholder");
	check_name("plain.nc", "no placeholder");
	check_name("{part}.nc", "unknown placeholder {part}");
	check_name("{JOB}.nc", "unknown placeholder {JOB}");
	check_name("{}.nc", "unknown placeholder {}");
	check_name("{job", "without its }");
	check_name("{job{rev}}", "without its }");
	check_name("job}", "without its {");
	check_name("{job}-{job}", "{job} stands twice");
	check_name("{job}{rev}", "without text between");
	check_name("x/{job}", "without its folder");
	check_name("{job}\x07", "control character");
	memset(longer, 'x', sizeof(longer));
	memcpy(longer, "{job}", 5);
	longer[sizeof(longer) - 1] = '\0';
	check_name(longer, "longer than 255");
	longer[PATTERN_MAX] = '\0';
	check_name(longer, NULL);
}

static void header_parentheses_are_checked(void **state)
{
	struct text why = {0};

	assert_true(pattern_check_header("(JOB {job} REV {rev} {channel})", &why));
	assert_true(pattern_check_header("REV {rev}", &why));
	assert_true(pattern_check_header("({job}", &why));
	assert_int_equal(why.n, 0);
	assert_false(pattern_check_header("(JOB {job}) (REV {rev})", &why));
	assert_non_null(strstr(why.s, "parentheses"));
	assert_false(pattern_check_header("REV ({rev})", &why));
	assert_false(pattern_check_header("()", &why));
	text_free(&why);
}

static double seconds(void)
{
	struct timespec t;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
	return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* A matcher that takes choices back would need the age of the world for these. */
static void hostile_input_takes_no_time(void **state)
{
	enum { N = 100000 };
	char *s = malloc(N + 1), pattern[PATTERN_MAX + 1];
	struct pattern_match m;
	double start = seconds();

	assert_non_null(s);
	memset(s, 'a', N);
	s[N] = '\0';
	assert_false(pattern_name("{job}aaaa{rev}aaaa{channel}aaaa{number}b", s, &m));
	assert_true(pattern_name("{job}aaaa{rev}aaaa{channel}aaaa{number}a", s, &m));
	memset(pattern, 'a', PATTERN_MAX);
	memcpy(pattern, "{job}", 5);
	memcpy(pattern + PATTERN_MAX - 6, "b{rev}", 6);
	pattern[PATTERN_MAX] = '\0';
	assert_false(pattern_name(pattern, s, &m));
	for (int i = 1; i < N; i += 2)
		s[i] = ' ';
	assert_false(pattern_header("a a a a a a a a a a a a a {job} b", s, N, &m));
	assert_false(pattern_header(pattern, s, N, &m));
	memset(s, '(', N);
	assert_false(pattern_header("(JOB {job})", s, N, &m));
	assert_true(seconds() - start < 5.0);
	free(s);
}

static void broken_patterns_never_match(void **state)
{
	static const char *const broken[] = {
	    "{", "}", "{job", "{job}{rev}", "{job}-{job}", "{x}", "{{}}"};
	struct pattern_match m;

	for (size_t i = 0; i < sizeof(broken) / sizeof(*broken); i++) {
		assert_false(pattern_name(broken[i], "J-J", &m));
		assert_null(m.field[PATTERN_JOB].s);
		assert_false(pattern_header(broken[i], "J-J", 3, &m));
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(names_are_read),
	    cmocka_unit_test(names_without_match),
	    cmocka_unit_test(earlier_placeholders_take_most),
	    cmocka_unit_test(headers_are_read),
	    cmocka_unit_test(headers_without_match),
	    cmocka_unit_test(header_without_parentheses_is_looked_for),
	    cmocka_unit_test(unusable_patterns_are_told),
	    cmocka_unit_test(header_parentheses_are_checked),
	    cmocka_unit_test(hostile_input_takes_no_time),
	    cmocka_unit_test(broken_patterns_never_match),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
