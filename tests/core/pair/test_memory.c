/*
 * Goal: whichever allocation fails, the check says so and gives everything back; it never judges a
 * pair by half of its findings.
 */
#include <stdlib.h>
#include "pair_help.h"
#include "scarce.h"
#include "yoke/split.h"
#include "yoke/timeline.h"

static bool once; /* one allocation fails, and those after it succeed */

static struct program *read_program(const struct profile *p, const char *file, const char *text)
{
	struct program *program = program_new(p, file);

	if (!program)
		return NULL;
	if (program_feed(program, text, strlen(text)) == 0 && program_finish(program) == 0)
		return program;
	program_free(program);
	return NULL;
}

/* The whole output, or NULL when the check said that memory ran out. The caller frees. */
static char *check_with(const struct profile *p, long allocations)
{
	static const char upper[] =
	    "\xEF\xBB\xBF%\nO4471(REV D)\nG1X1\tG4\xC2\xB0\nM201\nM98P1\n(A (B\n"
	    "M01\nM202\nM30\nO1\nM99\nO1\nM99\n%\n";
	static const char lower[] = "%\n:4417(REV C)\nM6\nM201\nM203\nM30\n%\n";
	struct program *program[2] = {0};
	struct pair_report *report = NULL;
	struct text t = {0};
	char *out = NULL;

	scarce_after(allocations, once);
	program[0] = read_program(p, "J4417.UP", upper);
	program[1] = program[0] ? read_program(p, "J4418.MID", lower) : NULL;
	if (program[1])
		report = pair_check(p, program, 2);
	if (report) {
		const struct ladder_style style = {80, false};

		pair_print_findings(pair_findings(report), &t);
		pair_print_summary(report, &t);
		ladder_draw(report, NULL, &style, &t);
		out = text_take(&t);
	}
	scarce_after(-1, false);
	text_free(&t);
	pair_report_free(report);
	program_free(program[0]);
	program_free(program[1]);
	return out;
}

/* The same for a file that holds both channels. */
static char *check_split(const struct profile *p, long allocations)
{
	static const char both[] = "%\nO4417(REV C)\nG1\n$1\nM201\nM30\n$3\n$2\nM202\nM30\n%\n";
	struct program *program[2] = {0};
	struct pair_report *report = NULL;
	struct text t = {0};
	struct split *s;
	char *out = NULL;

	scarce_after(allocations, once);
	s = split_new(p, "J4417.NC");
	if (s && split_feed(s, both, strlen(both)) == 0 && split_finish(s) == 0) {
		program[0] = split_take(s, 0);
		program[1] = split_take(s, 1);
		report = pair_check(p, program, 2);
	}
	if (report) {
		pair_print_findings(pair_findings(report), &t);
		pair_print_summary(report, &t);
		out = text_take(&t);
	}
	scarce_after(-1, false);
	text_free(&t);
	pair_report_free(report);
	split_free(s);
	program_free(program[0]);
	program_free(program[1]);
	return out;
}

/* All from the n-th on, or the n-th alone: what is printed then is the whole, or nothing. */
static void each_may_fail(
    const struct profile *p, char *(*check)(const struct profile *p, long allocations), long most)
{
	char *whole = check(p, -1), *out = NULL;

	assert_non_null(whole);
	for (int mode = 0; mode < 2; mode++) {
		long n = 0, refused = 0;

		once = mode == 1;
		for (; n < most; n++) {
			out = check(p, n);
			if (out && strcmp(out, whole) != 0)
				fail_msg("allocation %ld, mode %d: %s", n, mode, out);
			refused += !out;
			free(out);
		}
		assert_true(refused > 30 && refused < n);
	}
	once = false;
	free(whole);
}

static void each_allocation_may_fail(void **state)
{
	struct profile p;

	pair_help_profile(&p);
	pair_help_set(&p, "channel lower", "forbid", "M6");
	each_may_fail(&p, check_with, 2000);
}

static void each_allocation_of_a_split_file(void **state)
{
	struct profile p;

	pair_help_profile(&p);
	pair_help_set(&p, "programs", "separator", "$ {channel}");
	each_may_fail(&p, check_split, 500);
}

/* The timeline in print, or NULL when it said that memory ran out. The caller frees. */
static char *time_with(const struct pair_report *report, long allocations)
{
	struct timeline *t;
	struct text out = {0};
	char *s = NULL;

	scarce_after(allocations, once);
	t = timeline_new(report);
	if (t) {
		timeline_print(t, 80, &out);
		s = text_take(&out);
	}
	scarce_after(-1, false);
	timeline_free(t);
	return s;
}

/* Meetings, a subprogram, computed words, and a signal that is waited for. */
static void a_timeline_without_memory(void **state)
{
	static const char upper[] = "%\nO4417 (REV D)\nM301\n#1=2\nG4 X[#1*3]\nM98 P10\nM201\nM30\n"
	                            "O10 (SUB)\nG1 X1.\nM99\n%\n";
	static const char lower[] = "%\nO4417 (REV D)\nT0101\nM401\nG28 U0.\nM201\nM30\n%\n";
	const struct source s[] = {{"J4417.UP", upper, 0}, {"J4417.LO", lower, 0}};
	struct checked c;
	char *whole, *out;
	long n = 0, refused = 0;

	pair_help_profile(&c.profile);
	c.profile.send[c.profile.sends++] = (struct profile_range){301, 309};
	c.profile.receive[c.profile.receives++] = (struct profile_range){401, 409};
	pair_help_check(&c, s, 2);
	program_lend(c.program[0], upper, strlen(upper));
	program_lend(c.program[1], lower, strlen(lower));
	whole = time_with(c.report, -1);
	assert_non_null(whole);
	assert_non_null(strstr(whole, "Estimated cycle"));
	for (int mode = 0; mode < 2; mode++) {
		once = mode == 1;
		for (n = 0; n < 200; n++) {
			out = time_with(c.report, n);
			if (out && strcmp(out, whole) != 0)
				fail_msg("allocation %ld, mode %d: %s", n, mode, out);
			refused += !out;
			free(out);
		}
	}
	once = false;
	assert_true(refused > 20 && refused < 2 * n);
	free(whole);
	pair_help_free(&c);
}

static void a_profile_without_memory(void **state)
{
	struct profile p, before;
	struct text why = {0};

	profile_defaults(&before);
	p = before;
	scarce_after(0, once);
	assert_int_equal(profile_set(&p, "wait", "alone", "perhaps", &why), PROFILE_BAD);
	scarce_after(-1, false);
	assert_memory_equal(&p, &before, sizeof(p));
	text_free(&why);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_allocation_may_fail),
	    cmocka_unit_test(each_allocation_of_a_split_file),
	    cmocka_unit_test(a_timeline_without_memory),
	    cmocka_unit_test(a_profile_without_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
