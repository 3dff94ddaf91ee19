/*
 * Goal: every question about the shop is answered from what was recorded: the right rows, in the
 * right order, however they are filtered, also while the callback asks again.
 */
#include <stdio.h>
#include <stdlib.h>
#include "vault_help.h"

struct list {
	char text[4000];
	int stop_after, n;
	struct vault *v;
};

static int __attribute__((format(printf, 2, 3))) note(struct list *l, const char *format, ...)
{
	size_t at = strlen(l->text);
	va_list ap;

	va_start(ap, format);
	vsnprintf(l->text + at, sizeof(l->text) - at, format, ap);
	va_end(ap);
	return ++l->n == l->stop_after ? 7 : 0;
}

static int note_slot(void *ctx, const struct vault_slot *s)
{
	return note(ctx, "%s/%s/%s;", s->job, s->revision, s->channel);
}

static int note_pair(void *ctx, const struct vault_pair *p)
{
	return note(ctx, "%s:%s/%s;", p->area, p->job, p->revision);
}

static int note_order(void *ctx, const struct vault_order *o)
{
	return note(ctx, "%s:%s:%s;", o->machine, o->act, vault_order_state_name(o->state));
}

static int note_machine(void *ctx, const struct vault_machine *m)
{
	return note(ctx, "%s%s;", m->name, m->locked ? ":locked" : "");
}

static int note_event(void *ctx, const struct event *e, const struct sha *hash)
{
	return note(ctx, "%llu ", (unsigned long long)e->seq);
}

static void assert_events(struct bench *b, struct vault_filter f, const char *want)
{
	struct list l = {0};

	assert_int_equal(vault_events(b->v, &f, note_event, &l), 0);
	assert_string_equal(l.text, want);
}

static void events_are_filtered(void **state)
{
	struct bench *b = *state;
	/* seq: machine, job, who */
	static const struct {
		const char *machine, *job, *who;
	} row[] = {
	    {"lathe", "1200", "anna (uid 1002)"},     /* 1 */
	    {"lathe", "1300", "ben (uid 1003)"},      /* 2 */
	    {"mill", "1200", "anna (uid 1002)"},      /* 3 */
	    {"", "", "service"},                      /* 4 */
	    {"mill", "1300", "owner anna (uid 1002)"} /* 5 */
	};

	for (size_t i = 0; i < 5; i++) {
		struct vault_by by = {1000 * (int64_t)(i + 1), row[i].who, "socket"};
		struct vault_about a = {.machine = row[i].machine,
		    .job = row[i].job,
		    .outcome = i == 1 ? "duty" : "",
		    .text = i == 2 ? "it is Locked" : "",
		    .detail = i == 3 ? "{\"duty\": \"carry\"}" : ""};

		assert_int_equal(vault_record_refused(b->v, &by, &a), i + 1);
	}
	assert_int_equal(vault_record_stopped(b->v, &(struct vault_by){500, "service", ""}), 6);

	assert_events(b, (struct vault_filter){0}, "6 5 4 3 2 1 ");
	assert_events(b, (struct vault_filter){.oldest_first = true}, "1 2 3 4 5 6 ");
	assert_events(b, (struct vault_filter){.job = "1200"}, "3 1 ");
	assert_events(b, (struct vault_filter){.job = ""}, "6 5 4 3 2 1 ");
	assert_events(b, (struct vault_filter){.machine = "mill"}, "5 3 ");
	assert_events(b, (struct vault_filter){.machine = "mill", .job = "1200"}, "3 ");
	assert_events(b, (struct vault_filter){.who = "anna"}, "5 3 1 ");
	assert_events(b, (struct vault_filter){.who = "uid 100"}, "5 3 2 1 ");
	assert_events(b, (struct vault_filter){.who = "%"}, "");
	assert_events(b, (struct vault_filter){.text = "DUTY"}, "4 2 ");
	assert_events(b, (struct vault_filter){.text = "locked", .machine = "mill"}, "3 ");
	assert_events(b, (struct vault_filter){.text = "%"}, "");
	assert_events(b, (struct vault_filter){.who = "_nna"}, "");
	assert_events(b, (struct vault_filter){.kind = "stopped"}, "6 ");
	assert_events(b, (struct vault_filter){.kind = "stop"}, "");
	assert_events(b, (struct vault_filter){.from_us = 2000}, "5 4 3 2 ");
	assert_events(b, (struct vault_filter){.to_us = 3000}, "6 2 1 ");
	assert_events(b, (struct vault_filter){.from_us = 2000, .to_us = 4000}, "3 2 ");
	assert_events(b, (struct vault_filter){.after_seq = 4}, "6 5 ");
	assert_events(b, (struct vault_filter){.limit = 2}, "6 5 ");
	assert_events(
	    b, (struct vault_filter){.limit = 2, .oldest_first = true, .after_seq = 1}, "2 3 ");
	assert_events(b, (struct vault_filter){.limit = UINT64_MAX}, "6 5 4 3 2 1 ");
	assert_events(b,
	    (struct vault_filter){.machine = "mill",
	        .job = "1300",
	        .who = "anna",
	        .kind = "refused",
	        .from_us = 1,
	        .to_us = 9000,
	        .after_seq = 1,
	        .limit = 3,
	        .oldest_first = true},
	    "5 ");
	assert_events(b, (struct vault_filter){.job = "12' OR '1'='1"}, "");
}

static void a_list_ends_when_its_reader_has_enough(void **state)
{
	struct bench *b = *state;
	struct list l = {.stop_after = 2};

	help_day(b);
	assert_int_equal(vault_events(b->v, &(struct vault_filter){0}, note_event, &l), 7);
	assert_int_equal(l.n, 2);
	l = (struct list){.stop_after = 3};
	assert_int_equal(vault_slots(b->v, NULL, NULL, NULL, note_slot, &l), 7);
	assert_int_equal(l.n, 3);
}

static void slots_are_found_by_key(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct list l = {0};

	help_released(b, "1300", "A", part);
	help_released(b, "1200", "B", part);
	help_released(b, "1200", "A", part);
	assert_int_equal(vault_slots(b->v, NULL, NULL, NULL, note_slot, &l), 0);
	assert_string_equal(l.text,
	    "1200/A/lower;1200/A/upper;1200/B/lower;1200/B/upper;1300/A/lower;1300/A/upper;");
	l = (struct list){0};
	assert_int_equal(vault_slots(b->v, "lathe", "1200", "B", note_slot, &l), 0);
	assert_string_equal(l.text, "1200/B/lower;1200/B/upper;");
	l = (struct list){0};
	assert_int_equal(vault_slots(b->v, NULL, "1300", NULL, note_slot, &l), 0);
	assert_string_equal(l.text, "1300/A/lower;1300/A/upper;");
	l = (struct list){0};
	assert_int_equal(vault_slots(b->v, "", "1300", "A", note_slot, &l), 0);
	assert_string_equal(l.text, "");
}

static void pairs_are_found_newest_first(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {
	    .machine = "lathe", .job = "1200", .revision = "C", .outcome = "disagree"};
	struct vault_by by;
	struct vault_pair p;
	struct list l = {0};

	help_released(b, "1200", "A", part);
	help_released(b, "1300", "A", part);
	help_released(b, "1200", "B", part);
	by = help_by(b, "service");
	assert_recorded(b, vault_record_held(b->v, &by, &a));
	assert_int_equal(vault_pairs(b->v, NULL, note_pair, &l), 0);
	assert_string_equal(l.text, "lathe:1200/C;lathe:1200/B;lathe:1300/A;lathe:1200/A;");
	l = (struct list){0};
	assert_int_equal(vault_pairs(b->v, "1300", note_pair, &l), 0);
	assert_string_equal(l.text, "lathe:1300/A;");
	/* Without a revision: the newest that may be sent. */
	assert_int_equal(vault_pair(b->v, "lathe", "1200", NULL, &p), 1);
	assert_string_equal(p.revision, "B");
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "", &p), 1);
	assert_string_equal(p.revision, "B");
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "C", &p), 1);
	assert_int_equal(p.state, VAULT_HELD);
	assert_int_equal(vault_pair(b->v, "", "1200", NULL, &p), 0);
	assert_int_equal(vault_pair(b->v, NULL, "1200", "B", &p), 0);
	assert_string_equal(p.job, "");
}

static void orders_are_found_by_machine_and_state(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "anna");
	struct vault_about a = {.machine = "mill", .outcome = "fetch"};
	struct vault_order o;
	struct list l = {0};
	uint64_t id = help_order(b, "send", "1200", "A", NULL);

	assert_recorded(b, vault_record_queued(b->v, &by, &a));
	a.machine = "lathe";
	assert_recorded(b, vault_record_queued(b->v, &by, &a));
	assert_recorded(b, vault_record_kept(b->v, &by, &(struct vault_about){.order = id}));
	assert_int_equal(vault_orders(b->v, NULL, false, note_order, &l), 0);
	assert_string_equal(l.text, "lathe:send:failed;mill:fetch:queued;lathe:fetch:queued;");
	l = (struct list){0};
	assert_int_equal(vault_orders(b->v, NULL, true, note_order, &l), 0);
	assert_string_equal(l.text, "mill:fetch:queued;lathe:fetch:queued;");
	l = (struct list){0};
	assert_int_equal(vault_orders(b->v, "lathe", true, note_order, &l), 0);
	assert_string_equal(l.text, "lathe:fetch:queued;");
	l = (struct list){0};
	assert_int_equal(vault_orders(b->v, "lathe", false, note_order, &l), 0);
	assert_string_equal(l.text, "lathe:send:failed;lathe:fetch:queued;");
	assert_int_equal(vault_order(b->v, 99, &o), 0);
	assert_int_equal(vault_order(b->v, UINT64_MAX, &o), 0);
}

static void machines_are_known_once_something_was_said(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "anna");
	struct vault_machine m, empty = {0};
	struct list l = {0};

	assert_int_equal(vault_machine(b->v, "mill", &m), 1);
	strcpy(empty.name, "mill");
	assert_memory_equal(&m, &empty, sizeof(m));
	assert_recorded(
	    b, vault_record_locked(b->v, &by, &(struct vault_about){.machine = "mill"}));
	assert_recorded(
	    b, vault_record_offline(b->v, &by, &(struct vault_about){.machine = "lathe"}));
	assert_int_equal(vault_machines(b->v, note_machine, &l), 0);
	assert_string_equal(l.text, "lathe;mill:locked;");
}

static void a_revision_that_was_released_with_other_content_is_remembered(void **state)
{
	struct bench *b = *state;
	struct event_part first[2], changed;
	struct vault_about a = {.machine = "lathe",
	    .job = "1200",
	    .revision = "A",
	    .part = &changed,
	    .parts = 1,
	    .text = "lathe/other.nc"};
	struct vault_by by = help_by(b, "owner anna");
	struct vault_pair p;

	assert_int_equal(vault_was_released(b->v, "lathe", "1200", "A", &p), 0);
	help_released(b, "1200", "A", first);
	assert_int_equal(vault_was_released(b->v, "lathe", "1200", "A", &p), 0); /* as it was */
	help_keep(b, "changed", 7);
	changed = help_part("lower", "changed");
	assert_recorded(b, vault_record_arrived(b->v, &by, &a));
	assert_int_equal(vault_was_released(b->v, "lathe", "1200", "A", &p), 1);
	assert_int_equal(p.seq, 3);
	assert_int_equal(p.state, VAULT_RELEASED);
	assert_string_equal(p.who, "owner ben (uid 1003)");
	/* In the order of the channels' names, whatever the order in which they were told. */
	assert_string_equal(p.part[0].channel, "lower");
	assert_memory_equal(&p.part[0].sha, &first[1].after, sizeof(struct sha));
	assert_memory_equal(&p.part[1].sha, &first[0].after, sizeof(struct sha));
	assert_int_equal(vault_was_released(b->v, "", "1200", "A", &p), 0);
	assert_int_equal(vault_was_released(b->v, "lathe", "1200", "B", &p), 0);
	/* Held since, and the old content back again: nothing is other any more. */
	a.part = first;
	a.parts = 2;
	assert_recorded(b, vault_record_arrived(b->v, &by, &a));
	assert_int_equal(vault_was_released(b->v, "lathe", "1200", "A", &p), 0);
}

static void a_program_number_belongs_to_one_job(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_slot s;

	help_released(b, "1200", "A", part); /* O4417 */
	assert_int_equal(vault_number_user(b->v, "lathe", "upper", 4417, "1300", &s), 1);
	assert_string_equal(s.job, "1200");
	assert_string_equal(s.path, "lathe/1200-A.upper.nc");
	assert_int_equal(vault_number_user(b->v, "lathe", "upper", 4417, "1200", &s), 0);
	assert_int_equal(vault_number_user(b->v, "lathe", "upper", 4418, "1300", &s), 0);
	assert_int_equal(vault_number_user(b->v, "lathe", "middle", 4417, "1300", &s), 0);
	assert_int_equal(vault_number_user(b->v, "", "upper", 4417, "1300", &s), 0);
	assert_int_equal(vault_number_user(b->v, "lathe", "upper", 0, "1300", &s), 0);
}

static void a_report_is_handed_over(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	char *detail;

	help_released(b, "1200", "A", part);
	detail = vault_event_detail(b->v, 3);
	assert_string_equal(detail, "{\"findings\":[]}");
	free(detail);
	assert_null(vault_event_detail(b->v, 1));
	assert_null(vault_event_detail(b->v, 99));
}

/* The same question inside its own answer, and a record too. */
static int ask_again(void *ctx, const struct vault_pair *p)
{
	struct list *l = ctx, inner = {0};
	struct vault_by by = {1, "service", ""};

	if (vault_pairs(l->v, NULL, note_pair, &inner) != 0)
		return -1;
	assert_int_equal(inner.n, 2);
	assert_true(vault_record_refused(l->v, &by, &(struct vault_about){.job = p->job}) > 0);
	l->n++;
	return 0;
}

static void a_callback_may_ask_and_record(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct list l = {.v = b->v};

	help_released(b, "1200", "A", part);
	help_released(b, "1300", "A", part);
	assert_int_equal(vault_pairs(b->v, NULL, ask_again, &l), 0);
	assert_int_equal(l.n, 2);
	help_assert_good(b, 8);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(events_are_filtered),
	    TEST(a_list_ends_when_its_reader_has_enough),
	    TEST(slots_are_found_by_key),
	    TEST(pairs_are_found_newest_first),
	    TEST(orders_are_found_by_machine_and_state),
	    TEST(machines_are_known_once_something_was_said),
	    TEST(a_revision_that_was_released_with_other_content_is_remembered),
	    TEST(a_program_number_belongs_to_one_job),
	    TEST(a_report_is_handed_over),
	    TEST(a_callback_may_ask_and_record),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
