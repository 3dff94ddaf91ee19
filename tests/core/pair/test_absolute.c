/* Goal: what is proved for certain refuses whatever a profile says; a profile may add to that, and ask for a
 * second person. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "yoke/profile.h"

static void good(struct profile *p, const char *section, const char *key, const char *value)
{
	struct text why = {0};

	if (profile_set(p, section, key, value, &why) != PROFILE_OK)
		fail_msg("[%s] %s = %s: %s", section, key, value, why.s ? why.s : "not known");
}

static void bad(const char *section, const char *key, const char *value, const char *part_of_why)
{
	struct text why = {0};
	struct profile p;

	profile_defaults(&p);
	assert_int_equal(profile_set(&p, section, key, value, &why), PROFILE_BAD);
	if (!strstr(why.s, part_of_why))
		fail_msg("'%s' does not say '%s'", why.s, part_of_why);
	text_free(&why);
}

/* A profile that weighed a proven disagreement as a warning released a pair in which a channel waits for
 * ever: such rules always refuse, a machine's file adds to them, and none takes one away. */
static void what_is_absolute(void **state)
{
	static const char *const always[] = {"wait-missing", "wait-doubled", "wait-swapped", "wait-differs",
	    "wait-skipped", "wait-repeats", "wait-partners", "wait-after-end", "loop-endless"};
	struct profile p;
	struct text why = {0};
	int n = 0;

	profile_defaults(&p);
	assert_false(p.two_person);
	for (int id = 0; id < FINDING_COUNT; id++)
		n += p.absolute[id];
	assert_int_equal(n, sizeof(always) / sizeof(*always));
	for (size_t i = 0; i < sizeof(always) / sizeof(*always); i++) {
		assert_true(p.absolute[finding_by_name(always[i])]);
		for (int w = WEIGHT_OFF; w < WEIGHT_REFUSE; w++) {
			good(&p, "weights", always[i], finding_weight_name((enum weight)w));
			assert_false(profile_check(&p, &why));
			assert_non_null(strstr(why.s, always[i]));
			text_free(&why);
		}
		good(&p, "weights", always[i], "refuse");
		assert_true(profile_check(&p, &why));
	}
	good(&p, "release", "absolute", "number-clash, revision-reused");
	good(&p, "release", "absolute", "size");
	good(&p, "release", "absolute", "");
	assert_true(p.absolute[FINDING_NUMBER_CLASH] && p.absolute[FINDING_REVISION_REUSED]);
	assert_true(p.absolute[FINDING_SIZE] && p.absolute[FINDING_WAIT_MISSING]);
	assert_true(profile_check(&p, &why));
	good(&p, "weights", "number-clash", "warn");
	assert_false(profile_check(&p, &why));
	assert_string_equal(why.s, "number-clash is absolute and cannot weigh warn: such a rule always "
	                           "refuses, whatever the machine");
	text_free(&why);
	good(&p, "weights", "number-clash", "refuse");
	good(&p, "release", "absolute", "tab"); /* which warns unless it is weighed otherwise */
	assert_false(profile_check(&p, &why));
	text_free(&why);
	good(&p, "release", "two_person", "yes");
	assert_true(p.two_person);
	bad("release", "two_person", "perhaps", "yes");
	bad("release", "absolute", "wait-mising", "no rule 'wait-mising'");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_is_absolute),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
