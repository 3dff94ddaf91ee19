/*
 * Goal: whichever allocation fails, the check says so and gives everything back; it never judges a
 * pair by half of its findings.
 */
#include <stdlib.h>
#include "pair_help.h"

static long countdown = -1; /* allocations that still succeed; negative: all do */
static bool once;           /* only one fails, and those after it succeed */

void *__real_malloc(size_t n);
void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *p, size_t n);
void *__real_reallocarray(void *p, size_t n, size_t size);
char *__real_strdup(const char *s);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *p, size_t n);
void *__wrap_reallocarray(void *p, size_t n, size_t size);
char *__wrap_strdup(const char *s);

static bool fails(void)
{
	if (countdown < 0)
		return false;
	if (countdown > 0) {
		countdown--;
		return false;
	}
	if (once)
		countdown = -1;
	return true;
}

void *__wrap_malloc(size_t n)
{
	return fails() ? NULL : __real_malloc(n);
}

void *__wrap_calloc(size_t n, size_t size)
{
	return fails() ? NULL : __real_calloc(n, size);
}

void *__wrap_realloc(void *p, size_t n)
{
	return fails() ? NULL : __real_realloc(p, n);
}

void *__wrap_reallocarray(void *p, size_t n, size_t size)
{
	return fails() ? NULL : __real_reallocarray(p, n, size);
}

char *__wrap_strdup(const char *s)
{
	return fails() ? NULL : __real_strdup(s);
}

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

	countdown = allocations;
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
	countdown = -1;
	text_free(&t);
	pair_report_free(report);
	program_free(program[0]);
	program_free(program[1]);
	return out;
}

/* All from the n-th on, or the n-th alone: what is printed then is the whole, or nothing. */
static void each_allocation_may_fail(void **state)
{
	struct profile p;
	char *whole, *out = NULL;

	pair_help_profile(&p);
	pair_help_set(&p, "channel lower", "forbid", "M6");
	whole = check_with(&p, -1);
	assert_non_null(whole);
	for (int mode = 0; mode < 2; mode++) {
		long n = 0, refused = 0;

		once = mode == 1;
		for (; n < 2000; n++) {
			out = check_with(&p, n);
			if (out && strcmp(out, whole) != 0)
				fail_msg("allocation %ld, mode %d: %s", n, mode, out);
			refused += !out;
			free(out);
		}
		assert_true(refused > 50 && refused < n);
	}
	once = false;
	free(whole);
}

static void a_profile_without_memory(void **state)
{
	struct profile p, before;
	struct text why = {0};

	profile_defaults(&before);
	p = before;
	countdown = 0;
	assert_int_equal(profile_set(&p, "wait", "alone", "perhaps", &why), PROFILE_BAD);
	countdown = -1;
	assert_memory_equal(&p, &before, sizeof(p));
	text_free(&why);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_allocation_may_fail),
	    cmocka_unit_test(a_profile_without_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
