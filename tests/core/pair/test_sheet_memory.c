/*
 * Goal: a setup sheet or restart places whose memory runs out, at any allocation, are not there or
 * are whole: never half a sheet that looks like one.
 */
#include <stdlib.h>
#include "pair_help.h"
#include "scarce.h"
#include "yoke/restart.h"
#include "yoke/setup.h"

static const char upper[] =
    "%\nO4417 (REV D)\n#1=2\nT5\nM6 (MILL)\nG90 G17 G54 G0 X[#1*3]\nG2 X1. R9.\nM98 P10\nM201\n"
    "N5 G4 P1\nM0 (LOOK)\nIF [#1 LT 2] GOTO 5\nM30\nO10 (SUB)\nG1 X1.\nM99\n%\n";
static const char lower[] = "%\nO4417 (REV D)\nT0101\nG28 U0.\nM201\nG4 P1\nM30\n%\n";

typedef char *make_fn(const struct pair_report *report);

/* In print, or NULL when it said that memory ran out. The caller frees. */
static char *make_setup(const struct pair_report *report)
{
	struct setup *s = setup_new(report);
	struct text out = {0};

	if (!s)
		return NULL;
	setup_print(s, 80, &out);
	setup_html(s, &out);
	setup_free(s);
	return text_take(&out);
}

static char *make_restart(const struct pair_report *report)
{
	const struct restart_ask ask = {1, false, 0};
	struct restart *all = restart_new(report, NULL, 0), *one = restart_new(report, &ask, 1);
	struct text out = {0};
	bool whole = all && one;

	if (whole) {
		restart_print(all, 80, &out);
		restart_print(one, 80, &out);
	}
	restart_free(all);
	restart_free(one);
	if (whole)
		return text_take(&out);
	text_free(&out);
	return NULL;
}

static void without_memory(make_fn *make)
{
	const struct source s[] = {{"J4417.UP", upper, 0}, {"J4417.LO", lower, 0}};
	struct checked c;
	char *whole, *out;
	long refused = 0;

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	program_lend(c.program[0], upper, strlen(upper));
	program_lend(c.program[1], lower, strlen(lower));
	whole = make(c.report);
	assert_non_null(whole);
	for (int once = 0; once < 2; once++) {
		bool short_of = true;

		for (long n = 0; short_of; n++) {
			scarce_after(n, once);
			out = make(c.report);
			scarce_after(-1, false);
			if (out && strcmp(out, whole) != 0)
				fail_msg("allocation %ld, once %d: %s", n, once, out);
			short_of = !out;
			refused += short_of;
			free(out);
		}
	}
	assert_true(refused > 50);
	free(whole);
	pair_help_free(&c);
}

static void a_setup_sheet(void **state)
{
	without_memory(make_setup);
}

static void restart_places(void **state)
{
	without_memory(make_restart);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_setup_sheet),
	    cmocka_unit_test(restart_places),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
