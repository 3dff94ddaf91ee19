/*
 * Goal: an older revision is known as older, so that it is not carried by itself over a newer one;
 * and where nobody can tell, nothing is claimed.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "revision.h"

static void later(const char *a, const char *b)
{
	if (!revision_later(a, b) || revision_later(b, a))
		fail_msg("%s should be later than %s", a, b);
}

static void untold(const char *a, const char *b)
{
	if (revision_later(a, b) || revision_later(b, a))
		fail_msg("nobody can tell whether %s or %s is later", a, b);
}

/* Letters from A to Z, then AA: common practice on drawings. */
static void letters(void **state)
{
	later("B", "A");
	later("AA", "Z");
	later("AB", "AA");
	later("d", "C");
	untold("C", "C");
	untold("c", "C");
}

static void numbers(void **state)
{
	later("2", "1");
	later("10", "9");
	later("010", "9");
	later("100000000000000000000000", "99999999999999999999999");
	untold("7", "007");
	untold("0", "00");
}

static void both(void **state)
{
	later("C1", "C");
	later("C10", "C9");
	later("D", "C9");
	later("2B", "2A");
	later("1.10", "1.9");
	untold("C", "7");
	untold("C-1", "C.1");
	untold("C-1", "C1");
	later("A", "");
	untold("", "");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(letters),
	    cmocka_unit_test(numbers),
	    cmocka_unit_test(both),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
