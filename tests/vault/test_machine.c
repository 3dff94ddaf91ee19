/*
 * Goal: what a machine holds is called unknown from the first step until something certain was
 * recorded, and what ends an order changes what is known exactly as its word says.
 */
#include "record_help.h"

static void a_pair_travels_to_the_machine(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.outcome = "write", .text = "all channels: write"};
	struct vault_machine m;
	struct vault_order o;

	help_released(b, "1200", "A", part);
	record_help_holds(b, VAULT_NOTHING, "", "", NULL, 0);
	a.order = help_order(b, "send", "1200", "A", part);
	record_help_newest(b, "carrying", "lathe", "1200", "A", a.order);
	o = help_find_order(b, a.order);
	assert_int_equal(o.state, VAULT_CARRYING);
	assert_string_equal(o.act, "send");
	assert_string_equal(o.machine, "lathe");
	assert_string_equal(o.job, "1200");
	assert_string_equal(o.revision, "A");
	assert_string_equal(o.who, "anna (uid 1002)");
	assert_string_equal(o.step, "");
	assert_int_equal(o.seq, a.order + 1);
	record_help_parts(o.part, o.parts, part, 2);
	assert_int_equal(help_machine(b).order, a.order);
	record_help_holds(b, VAULT_NOTHING, "", "", NULL, 0);

	record_help_say(b, vault_record_step, &a);
	assert_string_equal(help_find_order(b, a.order).step, "write");
	record_help_holds(b, VAULT_UNKNOWN, "", "", NULL, 0);
	a.outcome = "replace";
	record_help_say(b, vault_record_step, &a);
	assert_string_equal(help_find_order(b, a.order).step, "replace");

	a.outcome = "none";
	a.text = "both are there";
	record_help_say(b, vault_record_carried, &a);
	record_help_newest(b, "carried", "lathe", "1200", "A", a.order);
	assert_int_equal(record_help_last.parts, 2); /* the order's, as none were told */
	record_help_holds(b, VAULT_LOADED, "1200", "A", part, 2);
	m = help_machine(b);
	assert_false(m.read_back || m.proven || m.drift);
	assert_int_equal(m.order, 0);
	assert_string_equal(m.by, "anna (uid 1002)");
	assert_string_equal(m.text, "both are there");
	assert_true(m.since_us == b->now_us);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);

	record_help_say(b, vault_record_read_back, &a);
	assert_true(help_machine(b).read_back);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	help_assert_good(b, 0);
}

/* The copy that was to be compared did not come, and the order was "done" all the same. */
static void carried_without_its_copy(void **state)
{
	static const struct {
		const char *outcome;
		enum vault_order_state ends;
	} word[] = {{"done", VAULT_DONE}, {"none", VAULT_DONE}, {"nothing", VAULT_FAILED},
	    {"lost", VAULT_FAILED}, {"cancelled", VAULT_FAILED}};
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {0};

	help_released(b, "1200", "A", part);
	for (size_t i = 0; i < sizeof(word) / sizeof(word[0]); i++) {
		a.order = help_order(b, "send", "1200", "A", part);
		a.outcome = "transmit";
		record_help_say(b, vault_record_step, &a);
		a.outcome = word[i].outcome;
		record_help_say(b, vault_record_carried, &a);
		assert_int_equal(help_find_order(b, a.order).state, word[i].ends);
		record_help_holds(b, VAULT_LOADED, "1200", "A", part, 2);
		assert_false(help_machine(b).read_back);
		assert_int_equal(help_machine(b).order, 0);
	}
	help_assert_good(b, 0);
}

static void a_good_part_makes_the_last_good_pair(void **state)
{
	struct bench *b = *state;
	struct event_part good[2], next[2];
	struct vault_about a = {.machine = "lathe", .text = "first part measured"};
	struct vault_machine m;

	record_help_refused(b, vault_record_proven, &a, "not known");
	help_loaded(b, "1200", "A", good);
	record_help_say(b, vault_record_proven, &a);
	record_help_newest(b, "proven", "lathe", "1200", "A", 0);
	assert_int_equal(record_help_last.parts, 2);
	m = help_machine(b);
	assert_true(m.proven && m.has_good && m.read_back);
	assert_string_equal(m.good_job, "1200");
	assert_string_equal(m.good_revision, "A");
	record_help_parts(m.good, m.goods, good, 2);
	assert_string_equal(m.good_by, "service");
	assert_true(m.good_us == b->now_us);

	help_loaded(b, "1200", "B", next);
	m = help_machine(b);
	assert_false(m.proven);
	record_help_parts(m.good, m.goods, good, 2);
	a.job = "1200";
	a.revision = "A";
	record_help_refused(b, vault_record_proven, &a, "holds 1200@B");

	/* The last good pair is carried back: it is proven at once, but not read back. */
	a = (struct vault_about){.outcome = "write"};
	a.order = help_order(b, "restore", "1200", "A", good);
	record_help_say(b, vault_record_step, &a);
	record_help_say(b, vault_record_carried, &a);
	m = help_machine(b);
	assert_true(m.proven && !m.read_back);
	record_help_holds(b, VAULT_LOADED, "1200", "A", good, 2);
	help_assert_good(b, 0);
}

/* Carried over a machine with a known content, up to its first step. */
static uint64_t half_way(struct bench *b, struct event_part old[2], struct event_part next[2])
{
	struct vault_about a = {.outcome = "transmit"};

	help_loaded(b, "1200", "A", old);
	record_help_say(b, vault_record_proven, &(struct vault_about){.machine = "lathe"});
	help_released(b, "1200", "B", next);
	a.order = help_order(b, "send", "1200", "B", next);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	record_help_say(b, vault_record_step, &a);
	/* What it held before is what it is believed to hold, and no more than that. */
	record_help_holds(b, VAULT_UNKNOWN, "", "", old, 2);
	assert_false(help_machine(b).proven || help_machine(b).read_back);
	assert_string_equal(help_machine(b).by, "anna (uid 1002)");
	return a.order;
}

static void a_failed_order_that_kept_the_old_pair(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2];
	struct vault_about a = {
	    .outcome = "space", .text = "the memory is full; nothing was changed"};
	struct vault_machine before, m;

	a.order = half_way(b, old, next);
	record_help_say(b, vault_record_kept, &a);
	record_help_newest(b, "kept", "lathe", "1200", "B", a.order);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	m = help_machine(b);
	assert_true(m.proven && m.read_back && m.order == 0);
	assert_string_equal(m.text, a.text);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	assert_string_equal(help_find_order(b, a.order).text, a.text);
	before = m;

	/* "again": back into the queue, with no step behind it. */
	a.order = help_order(b, "send", "1200", "B", next);
	record_help_say(b, vault_record_step, &a);
	a.outcome = "again";
	record_help_say(b, vault_record_kept, &a);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_QUEUED);
	record_help_say(b, vault_record_carrying, &a);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_CARRYING);
	assert_string_equal(help_find_order(b, a.order).step, "");
	record_help_say(b, vault_record_cancelled, &a);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_CANCELLED);
	m = help_machine(b);
	assert_memory_equal(&m, &before, sizeof(m));
	help_assert_good(b, 0);
}

static void an_order_is_cancelled(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2];
	struct vault_by by;
	struct vault_about a = {.text = "cancelled"};
	struct vault_machine before, m;

	a.order = half_way(b, old, next);
	record_help_say(b, vault_record_cancelled, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_CANCELLED);
	assert_int_equal(help_machine(b).order, 0);

	/* In the queue: the machine never heard of it. */
	before = help_machine(b);
	by = help_by(b, "anna");
	a = (struct vault_about){
	    .machine = "lathe", .job = "1200", .outcome = "send", .part = next, .parts = 2};
	a.order = vault_record_queued(b->v, &by, &a);
	record_help_newest(b, "queued", "lathe", "1200", "", a.order);
	assert_int_equal(record_help_last.seq, a.order);
	record_help_say(b, vault_record_cancelled,
	    &(struct vault_about){.order = a.order, .text = "never mind"});
	m = help_machine(b);
	assert_memory_equal(&m, &before, sizeof(m));
	record_help_refused(
	    b, vault_record_carrying, &(struct vault_about){.order = a.order}, "cancelled");
	help_assert_good(b, 0);
}

static void a_split_machine_says_so_until_it_is_put_right(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2], half[2];
	struct vault_about a = {.text = "upper is new, lower is gone", .part = half, .parts = 2};

	a.order = half_way(b, old, next);
	half[0] = next[0];
	half[1] = help_part("lower", NULL);
	record_help_say(b, vault_record_split, &a);
	record_help_holds(b, VAULT_SPLIT, "", "", half, 2);
	assert_false(help_machine(b).proven || help_machine(b).read_back);
	assert_true(help_machine(b).has_good);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);

	a = (struct vault_about){.outcome = "write"};
	a.order = help_order(b, "restore", "1200", "A", old);
	record_help_say(b, vault_record_step, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", half, 2);
	record_help_say(b, vault_record_kept, &a);
	record_help_holds(b, VAULT_SPLIT, "", "", half, 2);
	a.order = help_order(b, "restore", "1200", "A", old);
	record_help_say(b, vault_record_step, &a);
	record_help_say(b, vault_record_carried, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_true(help_machine(b).proven);
	help_assert_good(b, 0);
}

static void unknown_stays_unknown_until_something_was_read(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2], seen[2];
	struct vault_about a = {.text = "the carrier is gone"};
	int64_t since;

	a.order = half_way(b, old, next);
	since = help_machine(b).since_us;
	a.part = next; /* upper was read as new, of lower nothing is known */
	a.parts = 1;
	record_help_say(b, vault_record_unknown, &a);
	seen[0] = next[0];
	seen[1] = old[1];
	record_help_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	assert_true(help_machine(b).since_us == since);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	assert_int_equal(help_machine(b).order, 0);
	record_help_refused(
	    b, vault_record_proven, &(struct vault_about){.machine = "lathe"}, "not known");

	/* A later order that changes nothing does not make it known. */
	a = (struct vault_about){
	    .order = help_order(b, "send", "1200", "B", next), .outcome = "offline"};
	record_help_say(b, vault_record_kept, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	a.order = help_order(b, "send", "1200", "B", next);
	record_help_say(b, vault_record_cancelled, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	/* Nor does an inspection that could not look, or that saw something else. */
	a.order = help_order(b, "inspect", "1200", "A", old);
	record_help_say(b, vault_record_kept, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	a.order = help_order(b, "inspect", "1200", "A", old);
	a.part = next;
	a.parts = 2;
	record_help_say(b, vault_record_kept, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	/* One that names the old programs does. */
	a.order = help_order(b, "inspect", "1200", "A", old);
	a.part = old;
	record_help_say(b, vault_record_kept, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_true(help_machine(b).proven);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	help_assert_good(b, 0);
}

static void an_inspection_finds_out(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2];
	struct vault_about a = {.outcome = "x"};

	a.order = half_way(b, old, next);
	record_help_say(b, vault_record_unknown, &a);
	a.order = help_order(b, "inspect", "1200", "B", next);
	a.part = next;
	a.parts = 2;
	record_help_say(b, vault_record_carried, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "B", next, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	a.order = help_order(b, "inspect", "1200", "B", next);
	record_help_say(b, vault_record_split, &a);
	record_help_holds(b, VAULT_SPLIT, "", "", next, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	a.order = help_order(b, "inspect", "1200", "B", next);
	record_help_say(b, vault_record_unknown, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", next, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	help_assert_good(b, 0);
}

static void a_fetch_brings_what_is_there(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], got[2];
	struct vault_about a = {.outcome = "x", .part = got, .parts = 2};

	help_loaded(b, "1200", "A", old);
	record_help_say(b, vault_record_drift,
	    &(struct vault_about){.machine = "lathe", .text = "a feed was changed"});
	assert_true(help_machine(b).drift && !help_machine(b).read_back);
	assert_string_equal(help_machine(b).text, "a feed was changed");

	/* One channel says nothing about the other. */
	got[0] = old[0];
	got[1] = help_part("lower", "changed at the control");
	a.order = help_order(b, "fetch", "1200", "A", NULL);
	a.parts = 1;
	record_help_say(b, vault_record_fetched, &a);
	assert_true(help_machine(b).drift && !help_machine(b).read_back);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	assert_int_equal(help_machine(b).order, 0);
	a.order = help_order(b, "fetch", "1200", "A", NULL);
	a.parts = 2;
	record_help_say(b, vault_record_fetched, &a);
	assert_true(help_machine(b).drift);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	a.order = help_order(b, "fetch", "1200", "A", NULL);
	got[0] = old[1]; /* both as carried, in another order */
	got[1] = old[0];
	record_help_say(b, vault_record_fetched, &a);
	assert_true(help_machine(b).read_back && !help_machine(b).drift);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	help_assert_good(b, 0);
}

static void a_fetch_ends_doubt_when_it_is_the_old_pair(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2], got[2];
	struct vault_about a = {.outcome = "x", .part = got, .parts = 2};

	a.order = half_way(b, old, next);
	record_help_say(b, vault_record_unknown, &(struct vault_about){.order = a.order});
	got[0] = help_part("upper", "neither");
	got[1] = old[1];
	a.order = help_order(b, "fetch", "", "", NULL);
	record_help_say(b, vault_record_fetched, &a);
	record_help_holds(b, VAULT_UNKNOWN, "", "", got, 2);
	a.order = help_order(b, "fetch", "", "", NULL);
	got[0] = old[0];
	record_help_say(b, vault_record_fetched, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_true(help_machine(b).read_back && help_machine(b).proven);

	/* Over a serial line the bytes differ in leader and line ends: compared with the old pair,
	 * and equal. */
	a.order = help_order(b, "send", "1200", "B", next);
	record_help_say(b, vault_record_step, &a);
	record_help_say(b, vault_record_unknown, &(struct vault_about){.order = a.order});
	for (int i = 0; i < 2; i++) {
		got[i] = help_part(old[i].channel, i ? "lower, with leader" : "upper, with leader");
		got[i].has_before = true;
		got[i].before = next[i].after;
	}
	a.order = help_order(b, "fetch", "", "", NULL);
	record_help_say(b, vault_record_fetched, &a);
	record_help_say(b, vault_record_read_back, &a); /* compared with something else */
	assert_int_equal(help_machine(b).content, VAULT_UNKNOWN);
	got[0].before = old[0].after;
	got[1].before = old[1].after;
	record_help_say(b, vault_record_read_back, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_true(help_machine(b).read_back);
	help_assert_good(b, 0);
}

static void a_drifted_machine_is_not_proven(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe"};

	help_loaded(b, "1200", "A", part);
	record_help_say(b, vault_record_proven, &a);
	record_help_say(b, vault_record_drift, &a);
	assert_true(help_machine(b).drift && !help_machine(b).proven && !help_machine(b).read_back);
	record_help_refused(b, vault_record_proven, &a, "no longer holds");
	record_help_say(b, vault_record_read_back, &a); /* the change was undone at the control */
	assert_true(!help_machine(b).drift && help_machine(b).proven && help_machine(b).read_back);
	help_assert_good(b, 0);
}

static void a_machine_is_locked_and_reached(void **state)
{
	struct bench *b = *state;
	struct vault_about a = {.machine = "lathe", .text = "setter at work"};
	struct event_part part[2];
	struct vault_machine m;
	struct vault_by by;
	uint64_t id;

	help_loaded(b, "1200", "A", part);
	record_help_say(b, vault_record_locked, &a);
	m = help_machine(b);
	assert_true(m.locked);
	assert_string_equal(m.lock_text, "setter at work");
	assert_string_equal(m.text, "both programs are there");
	by = help_by(b, "anna");
	id = vault_record_queued(
	    b->v, &by, &(struct vault_about){.machine = "lathe", .outcome = "send"});
	record_help_refused(b, vault_record_carrying, &(struct vault_about){.order = id}, "locked");
	id = help_order(b, "fetch", "", "", NULL); /* a question changes nothing there */
	record_help_say(b, vault_record_cancelled, &(struct vault_about){.order = id});
	record_help_say(b, vault_record_unlocked, &a);
	assert_false(help_machine(b).locked);
	assert_string_equal(help_machine(b).lock_text, "");

	record_help_say(b, vault_record_offline, &a);
	assert_true(help_machine(b).offline);
	record_help_say(b, vault_record_abandoned, &a);
	assert_true(help_machine(b).offline && help_machine(b).abandoned);
	record_help_say(b, vault_record_online, &a);
	assert_false(help_machine(b).offline || help_machine(b).abandoned);
	record_help_holds(b, VAULT_LOADED, "1200", "A", part, 2);
	help_assert_good(b, 0);
}

/* What was changed there gets a name: the machine holds that, read back, and another may be proven. */
static void what_was_changed_is_adopted(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe", .job = "1200", .revision = "B", .part = part, .parts = 2};

	help_loaded(b, "1200", "A", part);
	record_help_say(b, vault_record_proven, &(struct vault_about){.machine = "lathe"});
	record_help_refused(b, vault_record_adopted, &a, "nothing was changed");
	record_help_say(b, vault_record_drift, &(struct vault_about){.machine = "lathe"});
	part[0] = help_part("upper", "changed at the control");
	record_help_refused(b, vault_record_adopted, &a, "not in the vault");
	part[0].after = help_keep(b, "changed at the control", strlen("changed at the control"));
	record_help_say(b, vault_record_adopted, &a);
	record_help_holds(b, VAULT_LOADED, "1200", "B", part, 2);
	assert_true(help_machine(b).read_back && !help_machine(b).drift && !help_machine(b).proven);
	assert_string_equal(help_machine(b).good_revision, "A");
	record_help_refused(b, vault_record_adopted, &a, "nothing was changed");
	record_help_say(b, vault_record_proven, &(struct vault_about){.machine = "lathe"});
	assert_string_equal(help_machine(b).good_revision, "B");
	help_assert_good(b, 0);
}

static void a_mark_ends_by_an_event_alone(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe", .text = "its channels are others now"};

	help_loaded(b, "1200", "A", part);
	record_help_refused(b, vault_record_unproven, &a, "no last good pair");
	record_help_say(b, vault_record_proven, &a);
	assert_true(help_machine(b).proven && help_machine(b).has_good);
	record_help_say(b, vault_record_unproven, &a);
	assert_false(help_machine(b).proven || help_machine(b).has_good || help_machine(b).goods);
	record_help_holds(b, VAULT_LOADED, "1200", "A", part, 2);
	record_help_say(b, vault_record_proven, &a);
	assert_true(help_machine(b).proven && help_machine(b).has_good);
	help_assert_good(b, 0);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(a_pair_travels_to_the_machine),
	    TEST(carried_without_its_copy),
	    TEST(a_good_part_makes_the_last_good_pair),
	    TEST(a_failed_order_that_kept_the_old_pair),
	    TEST(an_order_is_cancelled),
	    TEST(a_split_machine_says_so_until_it_is_put_right),
	    TEST(unknown_stays_unknown_until_something_was_read),
	    TEST(an_inspection_finds_out),
	    TEST(a_fetch_brings_what_is_there),
	    TEST(a_fetch_ends_doubt_when_it_is_the_old_pair),
	    TEST(a_drifted_machine_is_not_proven),
	    TEST(what_was_changed_is_adopted),
	    TEST(a_mark_ends_by_an_event_alone),
	    TEST(a_machine_is_locked_and_reached),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
