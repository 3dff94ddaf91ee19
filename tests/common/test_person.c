/*
 * Goal: who somebody is comes from the system's lists alone, and only what names one person counts as
 * one. The names and numbers of root, daemon and games are those of every Debian (base-passwd).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "conf_duty.h"
#include "conf_owner.h"
#include "person.h"

static void names(void **state)
{
	char name[200];

	person_user(0, name, sizeof(name));
	assert_string_equal(name, "root (uid 0)");
	person_user_group(5, 60, name, sizeof(name));
	assert_string_equal(name, "games (uid 5, group games)");
	person_user_group(5, 4711, name, sizeof(name));
	assert_string_equal(name, "games (uid 5, group gid 4711)");
	person_user(4711, name, sizeof(name));
	assert_string_equal(name, "uid 4711, no such user");
	person_user_group(4711, 60, name, sizeof(name));
	assert_string_equal(name, "uid 4711, no such user");
	/* nobody of Debian has the number that the kernel puts for owners who have none here. */
	person_user(65534, name, sizeof(name));
	assert_string_equal(name, "uid 65534, put by the kernel in place of another");
}

static void numbers(void **state)
{
	uid_t uid;
	gid_t gid;

	assert_true(person_uid("games", &uid) && uid == 5);
	assert_true(person_uid("4711", &uid) && uid == 4711);
	assert_true(person_gid("games", &gid) && gid == 60);
	assert_true(person_gid("0", &gid) && gid == 0);
	assert_false(person_gid("nosuchgroup", &gid));
	assert_false(person_uid("", &uid));
	assert_false(person_uid("-1", &uid));
	assert_false(person_uid("4294967295", &uid)); /* "none" to the kernel */
	assert_false(person_uid("99999999999", &uid));
	assert_false(person_login("5", &uid)); /* a badge that names a number names nobody */
}

static void one_person_or_none(void **state)
{
	static const char *const none[] = {"", "uid 4711, no such user", "uid 65534, put by the kernel in place of another",
	    "somebody through office server (account smb, uid 990)", "service (on_release = carry)", "service",
	    "anna (badge, at machine LATHE1)", "machine LATHE1", " (uid 5)", "anna (uid )", "anna (uid 5x)",
	    "anna (uid 5", "anna (uid 4294967295)", "anna (uid 12345678901)", "anna (uid 5) and others"};
	uid_t uid;

	for (size_t i = 0; i < sizeof(none) / sizeof(none[0]); i++)
		if (person_is(none[i], &uid))
			fail_msg("'%s' is no one person", none[i]);
	assert_true(person_is("anna (uid 1002)", &uid) && uid == 1002);
	assert_true(person_is("anna (uid 1003, group setters)", &uid) && uid == 1003);
	assert_true(person_is("uid (uid 7)", &uid) && uid == 7); /* somebody may be called so */
}

static void duties(void **state)
{
	struct conf_report report = {0};
	struct conf_duties d = {0};
	struct conf_entry carry = {"duties", "carry", " games , 4711", 1}, keep = {"duties", "keep", "", 2},
	                  look = {"duties", "look", "all", 3}, release = {"duties", "release", "4712", 4};
	gid_t gid = 60, by = 0, other[] = {1, 2, 4711}, none[] = {1, 2, 3};

	assert_true(conf_duty_has(&d, DUTY_KEEP, none, 3, &by)); /* nothing is given: as it ever was */
	conf_duty_add(&d, "f", &carry, &report);
	conf_duty_add(&d, "f", &keep, &report);
	conf_duty_add(&d, "f", &look, &report);
	conf_duty_add(&d, "f", &release, &report);
	assert_int_equal(report.errors, 0);
	assert_true(conf_duty_has(&d, DUTY_CARRY, &gid, 1, &by) && by == 60);
	assert_true(conf_duty_has(&d, DUTY_CARRY, other, 3, &by) && by == 4711);
	assert_false(conf_duty_has(&d, DUTY_CARRY, none, 3, &by));
	assert_false(conf_duty_has(&d, DUTY_CARRY, NULL, 0, &by));
	assert_false(conf_duty_has(&d, DUTY_KEEP, other, 3, &by)); /* given to nobody */
	assert_true(conf_duty_has(&d, DUTY_LOOK, none, 3, &by));
	assert_true(conf_duty_has(&d, DUTY_PROVE, none, 3, &by)); /* not given at all */
	/* Who may release may be the second person, unless that is given by itself. */
	assert_false(conf_duty_has(&d, DUTY_RELEASE_AGAIN, none, 3, &by));
	gid = 4712;
	assert_true(conf_duty_has(&d, DUTY_RELEASE_AGAIN, &gid, 1, &by));
	conf_report_free(&report);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(names),
	    cmocka_unit_test(numbers),
	    cmocka_unit_test(one_person_or_none),
	    cmocka_unit_test(duties),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
