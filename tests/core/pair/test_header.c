/*
 * Goal: the revision in a program's header is replaced where the check reads it, and not one other byte
 * changes; what the check reads then is the new revision.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "yoke/header.h"
#include "yoke/program.h"

static struct profile profile;

/* text NULL: nothing is to be replaced. */
static void revise(const char *from, const char *revision, const char *wanted)
{
	struct text t = {0};
	int result = header_revise(&profile, from, strlen(from), revision, &t);

	assert_int_equal(result, wanted != NULL);
	if (wanted) {
		struct program *p = program_new(&profile, "x");

		assert_string_equal(t.s, wanted);
		assert_int_equal(t.n, strlen(wanted));
		assert_int_equal(program_feed(p, t.s, t.n), 0);
		assert_int_equal(program_finish(p), 0);
		assert_string_equal(program_revision(p), revision);
		program_free(p);
	} else {
		assert_int_equal(t.n, 0);
	}
	text_free(&t);
}

static void test_replaced(void **state)
{
	revise("%\r\nO4417(JOB J4417 REV C UPPER)\r\n( REV C of the jaws )\r\nM30\r\n%\r\n", "D",
	    "%\r\nO4417(JOB J4417 REV D UPPER)\r\n( REV C of the jaws )\r\nM30\r\n%\r\n");
	revise("O1 (first) (job j4417 rev c; upper)\nM30\n", "D12",
	    "O1 (first) (job j4417 rev D12; upper)\nM30\n");
	/* A longer one becomes shorter; the header of a subprogram behind goes along. */
	revise("O1 (JOB J1 REV C10 UPPER)\nM98 P2\nM30\nO2 (JOB J1 REV C10 UPPER)\nM99\n", "D",
	    "O1 (JOB J1 REV D UPPER)\nM98 P2\nM30\nO2 (JOB J1 REV D UPPER)\nM99\n");
}

static void test_left_alone(void **state)
{
	revise("O1 (JOB J1 REV C UPPER)\nM30\n", "C", NULL);
	revise("O1 (JOB J1 REV c UPPER)\nM30\n", "C", NULL);
	revise("O1\nM30\n", "D", NULL);
	revise("", "D", NULL);
	revise("%", "D", NULL);
	revise("O1 (REV C)\nM30\n", "D", NULL);
	/* Behind the first motion nobody reads a header. */
	revise("O1\nG0 X1.\n(JOB J1 REV C UPPER)\nM30\n", "D", NULL);
}

/* Another header that says another revision is a mistake of its own, and stays one. */
static void test_contradiction(void **state)
{
	revise("O1 (JOB J1 REV C UPPER)\nM30\nO2 (JOB J1 REV B UPPER)\nM99\n", "D",
	    "O1 (JOB J1 REV D UPPER)\nM30\nO2 (JOB J1 REV B UPPER)\nM99\n");
}

static int before(void **state)
{
	profile_defaults(&profile);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_replaced),
	    cmocka_unit_test(test_left_alone),
	    cmocka_unit_test(test_contradiction),
	};

	return cmocka_run_group_tests(tests, before, NULL);
}
