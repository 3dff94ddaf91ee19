/*
 * Goal: each thing that can happen in the shop is recorded whole, changes what is known exactly as
 * its word says, and is refused when it cannot be.
 */
#include "record_help.h"

static void an_event_keeps_every_field(void **state)
{
	struct bench *b = *state;
	struct event_part part[2] = {help_part("upper", "x"), help_part("lower", NULL)};
	struct vault_by by = {-5, "anna (uid 1002)", "socket"};
	struct vault_about a = {
	    "lathe", "1200", "A", 77, "locked", "the machine is locked", "{\"a\":1}", part, 2};

	part[1].has_before = true;
	part[1].before = help_sha("y", 1);
	assert_int_equal(vault_record_refused(b->v, &by, &a), 1);
	record_help_newest(b, "refused", "lathe", "1200", "A", 77);
	assert_int_equal(record_help_last.seq, 1);
	assert_true(record_help_last.utc_us == -5);
	assert_string_equal(record_help_text[0], "anna (uid 1002)");
	assert_string_equal(record_help_text[1], "socket");
	assert_string_equal(record_help_text[5], "locked");
	assert_string_equal(record_help_text[6], "the machine is locked");
	assert_string_equal(record_help_text[7], "{\"a\":1}");
	assert_int_equal(record_help_last.parts, 2);
	assert_memory_equal(record_help_last.part, part, sizeof(part));
	/* What is not said is "". */
	assert_int_equal(
	    vault_record_refused(b->v, &(struct vault_by){0}, &(struct vault_about){0}), 2);
	record_help_newest(b, "refused", "", "", "", 0);
	assert_string_equal(record_help_text[0], "");
	help_assert_good(b, 2);
}

static void what_changes_nothing_is_only_told(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "service");
	struct vault_about a = {
	    .machine = "lathe", .outcome = "link", .text = "lathe/x.nc is a link"};

	assert_int_equal(vault_record_started(b->v, &by, "yoked 0", "{\"home\":\"x\"}"), 1);
	record_help_newest(b, "started", "", "", "", 0);
	assert_string_equal(record_help_text[6], "yoked 0");
	assert_int_equal(vault_record_configured(b->v, &by, "{}"), 2);
	record_help_newest(b, "configured", "", "", "", 0);
	assert_int_equal(record_help_say(b, vault_record_turned_away, &a), 3);
	record_help_newest(b, "turned-away", "lathe", "", "", 0);
	assert_int_equal(record_help_say(b, vault_record_refused, &a), 4);
	assert_int_equal(vault_record_stopped(b->v, &by), 5);
	record_help_newest(b, "stopped", "", "", "", 0);
	assert_int_equal(help_number(b->v->db,
	                     "SELECT (SELECT count(*) FROM machine)+(SELECT count(*) FROM slot)"),
	    0);
	help_assert_good(b, 5);
}

static int one_slot(void *ctx, const struct vault_slot *s)
{
	*(struct vault_slot *)ctx = *s;
	return 0;
}

static void an_arrival_is_its_channels_newest(void **state)
{
	struct bench *b = *state;
	struct event_part part = help_part("upper", "first");
	struct vault_about a = {.machine = "lathe",
	    .job = "1200",
	    .revision = "A",
	    .part = &part,
	    .parts = 1,
	    .text = "lathe/1200-A.upper.nc",
	    .outcome = "O4417"};
	struct vault_slot s;
	struct sha sha;

	record_help_refused(b, vault_record_arrived, &a, "not in the vault");
	help_keep(b, "first", 5);
	help_keep(b, "second", 6);
	record_help_say(b, vault_record_arrived, &a);
	part = help_part("upper", "second");
	record_help_say(b, vault_record_arrived, &a);
	assert_int_equal(vault_slots(b->v, "lathe", "1200", "A", one_slot, &s), 0);
	assert_string_equal(s.area, "lathe");
	assert_string_equal(s.job, "1200");
	assert_string_equal(s.revision, "A");
	assert_string_equal(s.channel, "upper");
	assert_string_equal(s.path, "lathe/1200-A.upper.nc");
	assert_string_equal(s.who, "service");
	assert_int_equal(s.seq, 2);
	assert_memory_equal(&s.sha, &part.after, sizeof(s.sha));
	assert_int_equal(vault_path(b->v, "lathe/1200-A.upper.nc", &sha), 1);
	assert_memory_equal(&sha, &part.after, sizeof(sha));

	/* A program that nobody can name is remembered by its path only. */
	a.job = NULL;
	a.revision = NULL;
	a.text = "lathe/?.nc";
	record_help_say(b, vault_record_arrived, &a);
	assert_int_equal(vault_path(b->v, "lathe/?.nc", &sha), 1);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM slot"), 1);
	/* What came from a machine is nobody's newest. */
	a.order = 1;
	a.text = "what the machine held";
	record_help_say(b, vault_record_arrived, &a);
	assert_int_equal(vault_path(b->v, "what the machine held", &sha), 0);
	record_help_newest(b, "arrived", "lathe", "", "", 1);
	a.parts = 0;
	record_help_refused(b, vault_record_arrived, &a, "names no program");
	part.has_after = false;
	a.parts = 1;
	record_help_refused(b, vault_record_arrived, &a, "names no program");
	help_assert_good(b, 4);
}

static void a_pair_is_held_or_released(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe",
	    .job = "1200",
	    .revision = "A",
	    .outcome = "agree",
	    .text = "wait-missing: x",
	    .part = part,
	    .parts = 2};
	struct vault_pair p;

	help_released(b, "1200", "A", part);
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "A", &p), 1);
	assert_int_equal(p.state, VAULT_RELEASED);
	assert_string_equal(p.verdict, "agree");
	assert_string_equal(p.text, "");
	assert_string_equal(p.who, "owner ben (uid 1003)"); /* he dropped the second program */
	assert_int_equal(p.seq, 3);
	assert_true(p.utc_us == b->now_us);
	record_help_parts(p.part, p.parts, part, 2);

	a.outcome = "disagree";
	record_help_say(b, vault_record_held, &a);
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "A", &p), 1);
	assert_int_equal(p.state, VAULT_HELD);
	assert_string_equal(p.verdict, "disagree");
	assert_string_equal(p.text, "wait-missing: x");

	a.job = "1300"; /* nothing arrived under this key */
	record_help_say(b, vault_record_held, &a);
	assert_int_equal(vault_pair(b->v, "lathe", "1300", "A", &p), 1);
	assert_string_equal(p.who, "service");
	a.job = NULL;
	record_help_say(b, vault_record_held, &a);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM pair"), 2);
	record_help_refused(b, vault_record_released, &a, "names no job");
	a.job = "1300";
	a.parts = 0;
	record_help_refused(b, vault_record_released, &a, "names no program");
	help_assert_good(b, 6);
}

static void what_must_not_be_is_refused(void **state)
{
	struct bench *b = *state;
	struct event_part part[2], many[YOKE_CHANNELS_MAX + 1] = {0};
	char name[YOKE_NAME_MAX + 2];
	struct vault_about a = {.machine = "lathe", .outcome = "send"};
	struct vault_by by = help_by(b, "anna");
	uint64_t id, other;

	memset(name, 'x', sizeof(name));
	name[YOKE_NAME_MAX + 1] = 0;
	help_released(b, "1200", "A", part);
	record_help_refused(
	    b, vault_record_carrying, &(struct vault_about){.machine = "lathe"}, "names no order");
	record_help_refused(
	    b, vault_record_carrying, &(struct vault_about){.order = 99}, "no order 99");
	record_help_refused(
	    b, vault_record_queued, &(struct vault_about){.machine = "lathe"}, "names no outcome");
	record_help_refused(
	    b, vault_record_queued, &(struct vault_about){.outcome = "send"}, "names no machine");
	record_help_refused(b, vault_record_locked, &(struct vault_about){0}, "names no machine");
	record_help_refused(b, vault_record_carried,
	    &(struct vault_about){.machine = "lathe", .job = "1200"}, "names no program");
	record_help_refused(
	    b, vault_record_locked, &(struct vault_about){.machine = name}, "more than 64");
	record_help_refused(
	    b, vault_record_held, &(struct vault_about){.job = name}, "more than 64");
	record_help_refused(
	    b, vault_record_held, &(struct vault_about){.revision = name}, "more than 64");
	record_help_refused(
	    b, vault_record_refused, &(struct vault_about){.part = many, .parts = 5}, "5 parts");
	record_help_refused(b, vault_record_refused, &(struct vault_about){.parts = 1}, "parts");
	memset(many[0].channel, 'x', sizeof(many[0].channel));
	record_help_refused(
	    b, vault_record_refused, &(struct vault_about){.part = many, .parts = 1}, "no end");

	id = vault_record_queued(b->v, &by, &a);
	other = vault_record_queued(b->v, &by, &a);
	assert_true(id > 0 && other > 0);
	record_help_refused(
	    b, vault_record_step, &(struct vault_about){.order = id, .outcome = "write"}, "queued");
	record_help_refused(b, vault_record_carrying,
	    &(struct vault_about){.order = id, .machine = "mill"}, "for machine lathe");
	record_help_say(b, vault_record_carrying, &(struct vault_about){.order = id});
	record_help_refused(
	    b, vault_record_carrying, &(struct vault_about){.order = other}, "busy");
	record_help_say(b, vault_record_kept, &(struct vault_about){.order = id});
	record_help_refused(b, vault_record_carrying, &(struct vault_about){.order = id}, "failed");
	name[YOKE_NAME_MAX] = 0;
	record_help_say(b, vault_record_locked, &(struct vault_about){.machine = name});
	help_assert_good(b, 0);
}

static void a_transaction_is_all_or_nothing(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "anna");
	struct vault_about a = {.machine = "lathe", .text = "x"};
	uint64_t first;

	assert_int_equal(vault_commit(b->v), -1); /* nothing was begun */
	vault_rollback(b->v);
	assert_int_equal(vault_begin(b->v), 0);
	first = vault_record_locked(b->v, &by, &a);
	assert_int_equal(vault_begin(b->v), 0);
	assert_int_equal(vault_record_offline(b->v, &by, &a), first + 1);
	assert_int_equal(vault_commit(b->v), 0);
	vault_rollback(b->v);
	assert_false(help_machine(b).locked || help_machine(b).offline);
	help_assert_good(b, 0);

	/* A failure in the middle: what comes after it is refused too, and the end says so. */
	assert_int_equal(vault_begin(b->v), 0);
	assert_int_equal(vault_record_locked(b->v, &by, &a), first);
	assert_int_equal(vault_record_locked(b->v, &by, &(struct vault_about){0}), 0);
	assert_int_equal(vault_record_offline(b->v, &by, &a), 0);
	assert_int_equal(vault_begin(b->v), -1);
	assert_non_null(strstr(vault_error(b->v), "names no machine"));
	assert_int_equal(vault_commit(b->v), -1);
	assert_false(help_machine(b).locked);

	/* An inner rollback undoes the outer one. */
	assert_int_equal(vault_begin(b->v), 0);
	assert_int_equal(vault_record_locked(b->v, &by, &a), first);
	assert_int_equal(vault_begin(b->v), 0);
	vault_rollback(b->v);
	assert_int_equal(vault_commit(b->v), -1);
	assert_false(help_machine(b).locked);

	assert_int_equal(vault_begin(b->v), 0);
	assert_int_equal(vault_record_locked(b->v, &by, &a), first);
	assert_int_equal(vault_record_offline(b->v, &by, &a), first + 1);
	assert_int_equal(vault_commit(b->v), 0);
	assert_true(help_machine(b).locked && help_machine(b).offline);

	/* A transaction that is open at the end is undone. */
	assert_int_equal(vault_begin(b->v), 0);
	assert_int_equal(vault_record_unlocked(b->v, &by, &a), first + 2);
	help_reopen(b);
	assert_true(help_machine(b).locked);
	help_assert_good(b, first + 1);
}

static void every_kind_has_its_record(void **state)
{
	struct bench *b = *state;
	uint64_t n = help_day(b);

	assert_int_equal(
	    help_number(b->v->db, "SELECT count(DISTINCT kind) FROM event"), EVENT_COUNT);
	help_assert_good(b, n);
	help_reopen(b);
	help_assert_good(b, n);
	for (unsigned k = 0; k < EVENT_COUNT; k++) {
		assert_int_equal(event_by_name(event_name(k)), k);
		assert_true(strlen(event_why(k)) > 10);
	}
	assert_int_equal(event_by_name("no such thing"), EVENT_COUNT);
	assert_int_equal(event_by_name(NULL), EVENT_COUNT);
	assert_string_equal(event_name(EVENT_COUNT), "?");
	assert_string_equal(vault_content_name((enum vault_content)99), "?");
	assert_string_equal(vault_pair_state_name(VAULT_RELEASED), "released");
	assert_string_equal(vault_order_state_name(VAULT_FAILED), "failed");
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(an_event_keeps_every_field),
	    TEST(what_changes_nothing_is_only_told),
	    TEST(an_arrival_is_its_channels_newest),
	    TEST(a_pair_is_held_or_released),
	    TEST(what_must_not_be_is_refused),
	    TEST(a_transaction_is_all_or_nothing),
	    TEST(every_kind_has_its_record),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
