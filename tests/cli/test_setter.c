/*
 * Goal: `yoke setup` and `yoke restart`, run on real files: exit statuses, the page, the JSON, and
 * what they say to wrong use.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include "scratch.h"

static char output[1 << 18];

/* An invented part: a spacer ring, faced and drilled. */
static const char upper[] = "%\nO0815\n(JOB J0815 REV A UPPER)\nN10 G90 G94 G17 G21 G54\nN20 T3\n"
                            "N30 M6 (DRILL)\nN40 G0 X0. Y0. S1800 M3\nN50 G43 Z5. H3\nM201\n"
                            "N60 G1 Z-8. F150\nN70 G0 Z50. M5\nM202\nM30\n%\n";
static const char lower[] = "%\nO0815\n(JOB J0815 REV A LOWER)\nN10 G99 G18 G54 T0101 (FACE)\n"
                            "N20 G97 S900 M4\nN30 G0 X42. Z0.\nN40 G1 X-1.6 F.15\nM201\n"
                            "N50 M1\nM202\nM30\n%\n";

static int setup(void **state)
{
	if (scratch_setup(state) < 0)
		return -1;
	scratch_file(state, "J0815-A.upper.nc", upper);
	scratch_file(state, "J0815-A.lower.nc", lower);
	scratch_file(
	    state, "J0815-B.lower.nc", "%\nO0815\n(JOB J0815 REV B LOWER)\nG4 P1\nM202\nM30\n%\n");
	return 0;
}

/* Run a shell line in the scratch folder with $Y as the command and $P as the pair. */
static void expect(void **state, const char *line, int status, const char *said)
{
	char command[4096];
	FILE *p;
	size_t n;
	int got;

	snprintf(command, sizeof(command),
	    "cd '%s' && Y='%s/cli/yoke' && P='J0815-A.upper.nc J0815-A.lower.nc' && export "
	    "LC_ALL=C && { %s; } 2>&1",
	    (char *)*state, BUILD_DIR, line);
	p = popen(command, "r");
	assert_non_null(p);
	n = fread(output, 1, sizeof(output) - 1, p);
	output[n] = '\0';
	got = pclose(p);
	assert_true(WIFEXITED(got));
	if (WEXITSTATUS(got) != status || !strstr(output, said))
		fail_msg("%s: status %d, expected %d with '%s'; it said:\n%s", line,
		    WEXITSTATUS(got), status, said, output);
}

static json_t *parse(void **state, const char *line, int status)
{
	json_error_t error;
	json_t *o;

	expect(state, line, status, "");
	o = json_loads(output, 0, &error);
	if (!o)
		fail_msg("%s: no JSON: %s\n%s", line, error.text, output);
	return o;
}

static void test_setup(void **state)
{
	expect(state, "$Y setup $P", 0, "Setup sheet: job J0815, revision A");
	assert_non_null(strstr(output, "Z     -8      N60, line 10"));
	assert_non_null(strstr(output, "T3    H3      N30, line 6"));
	expect(state, "$Y setup J0815-A.upper.nc J0815-B.lower.nc", 1, "disagree");
	expect(state, "$Y setup J0815-A.upper.nc", 2, "one for each channel");
	expect(state, "$Y setup $P --width 20", 2, "from 60 to 500");
	expect(state, "$Y setup --help", 0, "Example");
}

/* The page is made anew and never overwrites anything: least of all a program. */
static void test_page(void **state)
{
	expect(state, "$Y setup $P --html sheet.html && cat sheet.html", 0, "<h1>Setup sheet");
	assert_non_null(strstr(output, "<td>FACE</td>"));
	expect(state, "$Y setup $P --html sheet.html", 2, "nothing is overwritten");
	expect(
	    state, "$Y setup $P --html J0815-A.upper.nc; cat J0815-A.upper.nc", 0, "N10 G90 G94");
	expect(state, "$Y setup $P --html none/sheet.html", 2, "cannot be made");
	expect(state, "$Y setup $P --html /dev/full/x", 2, "cannot be made");
}

static void test_setup_json(void **state)
{
	json_t *o = parse(state, "$Y setup $P --json", 0);
	json_t *c = json_array_get(json_object_get(o, "channels"), 1);
	json_t *tool = json_array_get(json_object_get(c, "tools"), 0);
	json_t *work = json_array_get(json_object_get(c, "work_offsets"), 0);
	json_t *x = json_array_get(json_object_get(work, "axes"), 0);

	assert_string_equal(json_string_value(json_object_get(c, "channel")), "lower");
	assert_int_equal(json_integer_value(json_object_get(tool, "tool")), 1);
	assert_string_equal(
	    json_string_value(json_array_get(json_object_get(tool, "comments"), 0)), "FACE");
	assert_string_equal(json_string_value(json_object_get(work, "work_offset")), "G54");
	assert_true(json_real_value(json_object_get(x, "low")) == -1.6);
	assert_true(json_real_value(json_object_get(x, "high")) == 42);
	assert_int_equal(json_array_size(json_object_get(c, "stops")), 1);
	assert_true(json_array_size(json_object_get(o, "cautions")) > 2);
	json_decref(o);
}

static void test_restart(void **state)
{
	expect(state, "$Y restart $P", 0, "1, behind M201");
	assert_non_null(strstr(output, "N60, line 10 (behind M201)"));
	assert_non_null(strstr(output, "Many controls ignore wait codes"));
	expect(state, "$Y restart $P --near upper:N60", 0,
	    "Nearest matching places to upper N60: segment 1");
	expect(state, "$Y restart $P --near upper:N60 --near lower:9", 0, "lie in one segment");
	expect(state, "$Y restart $P --near upper:N60 --near lower:N30", 1, "DANGEROUS");
	expect(state, "$Y restart $P --near upper:N61", 2, "is not executed");
	expect(state, "$Y restart $P --near N60", 2, "write CHANNEL:N430");
	expect(state, "$Y restart $P --near upper:1 --near upper:2", 2, "names upper twice");
	expect(state, "$Y restart J0815-A.upper.nc J0815-B.lower.nc", 1, "for ever");
	expect(state, "$Y restart --help", 0, "Example");
}

static void test_restart_json(void **state)
{
	json_t *o = parse(state, "$Y restart $P --near lower:N50 --json", 0);
	json_t *near = json_array_get(json_object_get(o, "near"), 0);
	json_t *place = json_array_get(json_object_get(near, "places"), 0);
	json_t *s = json_object_get(place, "state");

	assert_int_equal(json_array_size(json_object_get(o, "segments")), 3);
	assert_int_equal(json_integer_value(json_object_get(near, "segment")), 1);
	assert_int_equal(json_integer_value(json_object_get(place, "sequence")), 60);
	assert_string_equal(json_string_value(json_object_get(s, "work_offset")), "G54");
	assert_string_equal(json_string_value(json_object_get(s, "spindle")), "M03");
	assert_true(json_real_value(json_object_get(s, "tool")) == 3);
	assert_true(json_is_null(json_object_get(s, "clamp")));
	json_decref(o);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, setup, scratch_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(test_setup),
	    TEST(test_page),
	    TEST(test_setup_json),
	    TEST(test_restart),
	    TEST(test_restart_json),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
