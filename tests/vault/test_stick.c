/*
 * Goal: a pair that is given out on a stick changes nothing of what a machine is known to hold; what
 * a person says of it is kept apart from what was seen; and a vault of the version before sticks is
 * opened, and fits its trail.
 */
#include "record_help.h"

static struct vault_about about(
    const char *revision, const char *outcome, const struct event_part part[2])
{
	return (struct vault_about){.machine = "lathe",
	    .job = "1200",
	    .revision = revision,
	    .outcome = outcome,
	    .text = "told",
	    .part = part,
	    .parts = 2};
}

static void expect_stick(
    struct bench *b, enum vault_stick_state state, const char *revision, const struct event_part *part)
{
	struct vault_stick s = help_machine(b).stick;

	assert_int_equal(s.state, state);
	if (state == VAULT_STICK_NONE)
		return;
	assert_string_equal(s.job, "1200");
	assert_string_equal(s.revision, revision);
	record_help_parts(s.part, s.parts, part, 2);
	assert_true(s.utc_us == b->now_us);
}

static void what_is_given_out_is_not_what_a_machine_holds(void **state)
{
	struct bench *b = *state;
	struct event_part c[2], d[2], none[2] = {help_part("upper", "x"), help_part("lower", "y")};
	struct vault_about a;
	struct vault_machine m;

	a = about("C", "", none);
	record_help_refused(b, vault_record_exported, &a, "not in the vault");
	help_loaded(b, "1200", "C", c);
	help_released(b, "1200", "D", d);
	expect_stick(b, VAULT_STICK_NONE, "", NULL);
	a = about("D", "", d);
	a.parts = 0;
	record_help_refused(b, vault_record_exported, &a, "names no program");
	a.parts = 2;
	record_help_say(b, vault_record_exported, &a);
	record_help_newest(b, "exported", "lathe", "1200", "D", 0);
	expect_stick(b, VAULT_STICK_OUT, "D", d);
	m = help_machine(b);
	assert_true(m.read_back);
	record_help_holds(b, VAULT_LOADED, "1200", "C", c, 2);
	/* What a person says of anything else. */
	a = about("D", "said", c);
	record_help_refused(b, vault_record_loaded, &a, "was not given out");
	a = about("E", "said", d);
	record_help_refused(b, vault_record_loaded, &a, "was not given out");
	a = about("D", NULL, d);
	record_help_refused(b, vault_record_loaded, &a, "names no outcome");
	help_assert_good(b, 0);
	/* It was not loaded: the old pair is as it was. */
	a = about("C", "said", c);
	record_help_say(b, vault_record_loaded, &a);
	expect_stick(b, VAULT_STICK_NONE, "", NULL);
	assert_true(help_machine(b).read_back);
	record_help_holds(b, VAULT_LOADED, "1200", "C", c, 2);
	/* A locked machine gets none. */
	a = (struct vault_about){.machine = "lathe"};
	record_help_say(b, vault_record_locked, &a);
	a = about("D", "", d);
	record_help_refused(b, vault_record_exported, &a, "locked");
	help_assert_good(b, 0);
}

static void what_is_said_is_kept_apart_from_what_is_seen(void **state)
{
	struct bench *b = *state;
	struct event_part c[2], d[2];
	struct vault_about a;
	struct vault_machine m;

	help_loaded(b, "1200", "C", c);
	a = (struct vault_about){.machine = "lathe"};
	record_help_say(b, vault_record_proven, &a);
	help_released(b, "1200", "D", d);
	a = about("D", "", d);
	record_help_say(b, vault_record_exported, &a);
	a = about("D", "said", d);
	record_help_say(b, vault_record_loaded, &a);
	expect_stick(b, VAULT_STICK_SAID, "D", d);
	m = help_machine(b);
	assert_false(m.read_back || m.proven || m.drift);
	assert_string_equal(m.by, "service");
	record_help_holds(b, VAULT_LOADED, "1200", "D", d, 2);
	/* It comes back equal: seen. */
	a = about("D", "none", d);
	record_help_say(b, vault_record_read_back, &a);
	expect_stick(b, VAULT_STICK_NONE, "", NULL);
	assert_true(help_machine(b).read_back);

	/* The last good one goes out again, and a stick that came back shows it. */
	a = about("C", "", c);
	record_help_say(b, vault_record_exported, &a);
	a = about("C", "seen", c);
	record_help_say(b, vault_record_loaded, &a);
	expect_stick(b, VAULT_STICK_NONE, "", NULL);
	assert_true(help_machine(b).proven);
	assert_false(help_machine(b).read_back);
	record_help_holds(b, VAULT_LOADED, "1200", "C", c, 2);

	/* Drift is not talked away: only for what was given out anew. */
	a = about("C", "none", c);
	record_help_say(b, vault_record_drift, &a);
	a = about("C", "said", c);
	record_help_refused(b, vault_record_loaded, &a, "was not given out");
	record_help_say(b, vault_record_exported, &a);
	record_help_say(b, vault_record_loaded, &a);
	assert_false(help_machine(b).drift);
	assert_true(help_machine(b).proven);
	help_assert_good(b, 0);
}

static void what_is_carried_later_counts(void **state)
{
	struct bench *b = *state;
	struct event_part c[2], d[2];
	struct vault_about a;

	help_released(b, "1200", "C", c);
	a = about("C", "", c);
	record_help_say(b, vault_record_exported, &a);
	help_loaded(b, "1200", "D", d);
	expect_stick(b, VAULT_STICK_NONE, "", NULL);
	record_help_holds(b, VAULT_LOADED, "1200", "D", d, 2);
	/* A copy of what it holds says nothing of a stick that is out. */
	record_help_say(b, vault_record_exported, &a);
	record_help_say(b, vault_record_read_back, &(struct vault_about){.machine = "lathe"});
	assert_int_equal(help_machine(b).stick.state, VAULT_STICK_OUT);

	/* A step that nobody knows the end of, and a stick in its place. */
	a = (struct vault_about){.machine = "lathe", .text = "lost"};
	record_help_say(b, vault_record_unknown, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", d, 2);
	a = about("C", "said", c);
	record_help_say(b, vault_record_loaded, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "C", c, 2);
	help_reopen(b);
	assert_int_equal(help_machine(b).stick.state, VAULT_STICK_SAID);
	help_assert_good(b, 0);
}

/* The vault as the version before sticks left it. */
static void an_earlier_vault_is_opened(void **state)
{
	struct bench *b = *state;
	struct event_part c[2];
	struct vault_about a;
	char why[400];

	help_loaded(b, "1200", "C", c);
	vault_close(b->v);
	help_sql(b->path, "DROP TABLE stick; PRAGMA user_version=2;");
	b->v = vault_open(b->path, why, sizeof(why));
	if (!b->v)
		fail_msg("%s", why);
	help_assert_good(b, 0);
	record_help_holds(b, VAULT_LOADED, "1200", "C", c, 2);
	a = about("C", "", c);
	record_help_say(b, vault_record_exported, &a);
	help_reopen(b);
	expect_stick(b, VAULT_STICK_OUT, "C", c);
	help_assert_good(b, 0);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(what_is_given_out_is_not_what_a_machine_holds),
	    TEST(what_is_said_is_kept_apart_from_what_is_seen),
	    TEST(what_is_carried_later_counts),
	    TEST(an_earlier_vault_is_opened),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
