/* Goal: spelling help names what was meant and keeps silent where it would only guess. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "spell.h"

static const char *const verbs[] = {"check", "ladder", "explain", "change", "send"};

static const char *nearest(const char *word)
{
	return spell_nearest(word, verbs, sizeof(verbs) / sizeof(verbs[0]));
}

static void test_near(void **state)
{
	assert_string_equal(nearest("chekc"), "check");
	assert_string_equal(nearest("CHECK"), "check");
	assert_string_equal(nearest("lader"), "ladder");
	assert_string_equal(nearest("explian"), "explain");
	assert_string_equal(nearest("chnage"), "change");
	assert_string_equal(nearest("sned"), "send");
}

static void test_far(void **state)
{
	char huge[5000];

	memset(huge, 'c', sizeof(huge) - 1);
	huge[sizeof(huge) - 1] = '\0';
	assert_null(nearest("restore"));
	assert_null(nearest(""));
	assert_null(nearest(huge));
	assert_null(nearest("xyzzy"));
	assert_null(spell_nearest("check", NULL, 0));
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(test_near), cmocka_unit_test(test_far)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
