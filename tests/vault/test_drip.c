/*
 * Goal: a program that a control executes while it reads it leaves what the machine holds as it was,
 * known or not, at every end of the order; an order is of this kind or it is not; and once it began
 * it is never queued again.
 */
#include "record_help.h"

/* A drip of the upper channel, queued. */
static uint64_t queued(struct bench *b, const struct event_part *part)
{
	struct vault_by by = help_by(b, "anna (uid 1002)");
	struct vault_about a = {.machine = "lathe",
	    .job = "1200",
	    .revision = "B",
	    .outcome = "drip",
	    .part = part,
	    .parts = 1};
	uint64_t id = vault_record_queued(b->v, &by, &a);

	assert_recorded(b, id);
	return id;
}

/* The same under way. */
static uint64_t drip(struct bench *b, const struct event_part *part)
{
	uint64_t id = queued(b, part);

	record_help_say(b, vault_record_carrying, &(struct vault_about){.order = id});
	return id;
}

static void feed(struct bench *b, uint64_t order)
{
	record_help_say(
	    b, vault_record_step, &(struct vault_about){.order = order, .outcome = "feed"});
}

/* All of the machine but what it was last told, and the order. */
static void same_machine(struct bench *b, const struct vault_machine *before)
{
	struct vault_machine m = help_machine(b), want = *before;

	memcpy(want.text, m.text, sizeof(want.text));
	want.order = m.order;
	assert_memory_equal(&m, &want, sizeof(m));
}

/* How the order can end, and what becomes of it. */
static const struct {
	record_fn *record;
	const char *outcome;
	bool begun;
	enum vault_order_state state;
} ends[] = {
    {vault_record_fed, "done", true, VAULT_DONE},
    {vault_record_kept, "lost", true, VAULT_FAILED},
    {vault_record_kept, "cancelled", true, VAULT_FAILED},
    {vault_record_kept, "carrier", true, VAULT_FAILED},
    {vault_record_kept, "no-start", false, VAULT_FAILED},
    {vault_record_kept, "again", false, VAULT_QUEUED},
    {vault_record_cancelled, "cancelled", false, VAULT_CANCELLED},
};

static void each_end(struct bench *b, const struct event_part part[2])
{
	struct vault_machine before = help_machine(b);

	for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++) {
		struct vault_about a = {.outcome = ends[i].outcome, .text = "told"};

		a.order = drip(b, part);
		if (ends[i].begun)
			feed(b, a.order);
		assert_string_equal(
		    help_find_order(b, a.order).step, ends[i].begun ? "feed" : "");
		same_machine(b, &before);
		assert_int_equal(help_machine(b).order, a.order);
		record_help_say(b, ends[i].record, &a);
		same_machine(b, &before);
		assert_int_equal(help_machine(b).order, 0);
		assert_string_equal(help_machine(b).text, "told");
		assert_int_equal(help_find_order(b, a.order).state, ends[i].state);
		if (ends[i].state == VAULT_QUEUED)
			record_help_say(b, vault_record_cancelled, &a);
	}
}

static void the_machine_is_as_before(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2];
	struct vault_about a = {.machine = "lathe"};

	help_released(b, "1200", "B", next);
	each_end(b, next); /* nothing was ever carried */
	help_loaded(b, "1200", "A", old);
	record_help_say(b, vault_record_proven, &a);
	each_end(b, next); /* loaded, read back, proven */
	record_help_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	record_help_say(b, vault_record_drift, &a);
	each_end(b, next); /* drifted */
	a.order = help_order(b, "send", "1200", "B", next);
	a.outcome = "transmit";
	record_help_say(b, vault_record_step, &a);
	record_help_say(b, vault_record_unknown, &a);
	each_end(b, next); /* unknown */
	assert_int_equal(help_machine(b).content, VAULT_UNKNOWN);
	a.order = help_order(b, "send", "1200", "B", next);
	record_help_say(b, vault_record_step, &a);
	a.part = next;
	a.parts = 1;
	record_help_say(b, vault_record_split, &a);
	each_end(b, next); /* split */
	assert_int_equal(help_machine(b).content, VAULT_SPLIT);
	help_assert_good(b, 0);
}

/* What it was fed with is in the entry. */
static void the_entry_says_what(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.outcome = "done", .text = "all of it"};

	help_released(b, "1200", "B", part);
	a.order = drip(b, part);
	feed(b, a.order);
	record_help_newest(b, "step", "lathe", "1200", "B", a.order);
	record_help_say(b, vault_record_fed, &a);
	record_help_newest(b, "fed", "lathe", "1200", "B", a.order);
	assert_int_equal(record_help_last.parts, 1);
	assert_string_equal(record_help_last.part[0].channel, part[0].channel);
	assert_memory_equal(&record_help_last.part[0].after, &part[0].after, sizeof(struct sha));
	help_assert_good(b, 0);
}

static void what_must_not_be_is_refused(void **state)
{
	static record_fn *const changes[] = {vault_record_carried, vault_record_read_back,
	    vault_record_split, vault_record_unknown, vault_record_fetched, vault_record_drift};
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe"};

	help_released(b, "1200", "B", part);
	/* Nothing is fed to a locked machine; a lock does not stop what has begun. */
	record_help_say(b, vault_record_locked, &a);
	a.order = queued(b, part);
	record_help_refused(b, vault_record_carrying, &a, "locked");
	record_help_refused(b, vault_record_fed, &a, "queued");
	a.order = 0;
	record_help_say(b, vault_record_unlocked, &a);
	a.order = drip(b, part);
	record_help_say(b, vault_record_locked, &(struct vault_about){.machine = "lathe"});
	feed(b, a.order);
	/* It changes nothing that the machine holds, and does nothing else. */
	for (size_t i = 0; i < sizeof(changes) / sizeof(changes[0]); i++)
		record_help_refused(b, changes[i], &a, "is a drip");
	a.outcome = "transmit";
	record_help_refused(b, vault_record_step, &a, "is a drip");
	record_help_say(b, vault_record_fed, &a);
	record_help_refused(b, vault_record_fed, &a, "is done");
	record_help_say(b, vault_record_unlocked, &(struct vault_about){.machine = "lathe"});

	/* No other order feeds. */
	a.order = help_order(b, "send", "1200", "B", part);
	a.outcome = "feed";
	record_help_refused(b, vault_record_step, &a, "is a send");
	a.outcome = "transmit";
	record_help_say(b, vault_record_step, &a);
	record_help_refused(b, vault_record_fed, &a, "is a send");
	record_help_refused(
	    b, vault_record_fed, &(struct vault_about){.machine = "lathe"}, "names no order");
	help_assert_good(b, 0);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(the_machine_is_as_before),
	    TEST(the_entry_says_what),
	    TEST(what_must_not_be_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
