/*
 * Goal: each thing that can happen in the shop changes what is known exactly as its word says, and
 * no more: above all, what a machine holds is called unknown from the first step until something
 * certain was recorded.
 */
#include "vault_help.h"

typedef uint64_t record_fn(struct vault *, const struct vault_by *, const struct vault_about *);

static uint64_t say(struct bench *b, record_fn *fn, const struct vault_about *a)
{
	struct vault_by by = help_by(b, "service");
	uint64_t seq = fn(b->v, &by, a);

	assert_recorded(b, seq);
	return seq;
}

static void assert_refused(
    struct bench *b, record_fn *fn, const struct vault_about *a, const char *why)
{
	struct vault_by by = help_by(b, "service");
	int64_t before = help_number(b->v->db, "SELECT count(*) FROM event");

	assert_int_equal(fn(b->v, &by, a), 0);
	if (!strstr(vault_error(b->v), why))
		fail_msg("'%s' does not say '%s'", vault_error(b->v), why);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM event"), before);
	assert_int_equal(b->v->depth, 0);
}

static void assert_parts(
    const struct vault_part *got, uint32_t n, const struct event_part *want, uint32_t wants)
{
	assert_int_equal(n, wants);
	for (uint32_t i = 0; i < n; i++) {
		assert_string_equal(got[i].channel, want[i].channel);
		assert_int_equal(got[i].present, want[i].has_after);
		if (want[i].has_after)
			assert_memory_equal(&got[i].sha, &want[i].after, sizeof(got[i].sha));
	}
}

static void assert_holds(struct bench *b, enum vault_content content, const char *job,
    const char *revision, const struct event_part *part, uint32_t parts)
{
	struct vault_machine m = help_machine(b);

	assert_string_equal(vault_content_name(m.content), vault_content_name(content));
	assert_string_equal(m.job, job);
	assert_string_equal(m.revision, revision);
	assert_parts(m.part, m.parts, part, parts);
}

static struct event last;
static char last_text[9][200];

static int keep_last(void *ctx, const struct event *e, const struct sha *hash)
{
	const char *from[9] = {e->who, e->from, e->machine, e->job, e->revision, e->outcome,
	    e->text, e->detail, event_name(e->kind)};

	last = *e;
	for (int i = 0; i < 9; i++)
		db_cut(last_text[i], sizeof(last_text[i]), from[i]);
	return 1;
}

/* The newest entry, as it is told. */
static void assert_last(struct bench *b, const char *kind, const char *machine, const char *job,
    const char *revision, uint64_t order)
{
	assert_int_equal(
	    vault_events(b->v, &(struct vault_filter){.limit = 1}, keep_last, NULL), 1);
	assert_string_equal(last_text[8], kind);
	assert_string_equal(last_text[2], machine);
	assert_string_equal(last_text[3], job);
	assert_string_equal(last_text[4], revision);
	assert_int_equal(last.order, order);
}

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
	assert_last(b, "refused", "lathe", "1200", "A", 77);
	assert_int_equal(last.seq, 1);
	assert_true(last.utc_us == -5);
	assert_string_equal(last_text[0], "anna (uid 1002)");
	assert_string_equal(last_text[1], "socket");
	assert_string_equal(last_text[5], "locked");
	assert_string_equal(last_text[6], "the machine is locked");
	assert_string_equal(last_text[7], "{\"a\":1}");
	assert_int_equal(last.parts, 2);
	assert_memory_equal(last.part, part, sizeof(part));
	/* What is not said is "". */
	assert_int_equal(
	    vault_record_refused(b->v, &(struct vault_by){0}, &(struct vault_about){0}), 2);
	assert_last(b, "refused", "", "", "", 0);
	assert_string_equal(last_text[0], "");
	help_assert_good(b, 2);
}

static void what_changes_nothing_is_only_told(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "service");
	struct vault_about a = {
	    .machine = "lathe", .outcome = "link", .text = "lathe/x.nc is a link"};

	assert_int_equal(vault_record_started(b->v, &by, "yoked 0", "{\"home\":\"x\"}"), 1);
	assert_last(b, "started", "", "", "", 0);
	assert_string_equal(last_text[6], "yoked 0");
	assert_int_equal(vault_record_configured(b->v, &by, "{}"), 2);
	assert_last(b, "configured", "", "", "", 0);
	assert_int_equal(say(b, vault_record_turned_away, &a), 3);
	assert_last(b, "turned-away", "lathe", "", "", 0);
	assert_int_equal(say(b, vault_record_refused, &a), 4);
	assert_int_equal(vault_record_stopped(b->v, &by), 5);
	assert_last(b, "stopped", "", "", "", 0);
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

	assert_refused(b, vault_record_arrived, &a, "not in the vault");
	help_keep(b, "first", 5);
	help_keep(b, "second", 6);
	say(b, vault_record_arrived, &a);
	part = help_part("upper", "second");
	say(b, vault_record_arrived, &a);
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
	say(b, vault_record_arrived, &a);
	assert_int_equal(vault_path(b->v, "lathe/?.nc", &sha), 1);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM slot"), 1);
	/* What came from a machine is nobody's newest. */
	a.order = 1;
	a.text = "what the machine held";
	say(b, vault_record_arrived, &a);
	assert_int_equal(vault_path(b->v, "what the machine held", &sha), 0);
	assert_last(b, "arrived", "lathe", "", "", 1);
	a.parts = 0;
	assert_refused(b, vault_record_arrived, &a, "names no program");
	part.has_after = false;
	a.parts = 1;
	assert_refused(b, vault_record_arrived, &a, "names no program");
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
	assert_parts(p.part, p.parts, part, 2);

	a.outcome = "disagree";
	say(b, vault_record_held, &a);
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "A", &p), 1);
	assert_int_equal(p.state, VAULT_HELD);
	assert_string_equal(p.verdict, "disagree");
	assert_string_equal(p.text, "wait-missing: x");

	a.job = "1300"; /* nothing arrived under this key */
	say(b, vault_record_held, &a);
	assert_int_equal(vault_pair(b->v, "lathe", "1300", "A", &p), 1);
	assert_string_equal(p.who, "service");
	a.job = NULL;
	say(b, vault_record_held, &a);
	assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM pair"), 2);
	assert_refused(b, vault_record_released, &a, "names no job");
	a.job = "1300";
	a.parts = 0;
	assert_refused(b, vault_record_released, &a, "names no program");
	help_assert_good(b, 6);
}

static void a_pair_travels_to_the_machine(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.outcome = "write", .text = "all channels: write"};
	struct vault_machine m;
	struct vault_order o;

	help_released(b, "1200", "A", part);
	assert_holds(b, VAULT_NOTHING, "", "", NULL, 0);
	a.order = help_order(b, "send", "1200", "A", part);
	assert_last(b, "carrying", "lathe", "1200", "A", a.order);
	o = help_find_order(b, a.order);
	assert_int_equal(o.state, VAULT_CARRYING);
	assert_string_equal(o.act, "send");
	assert_string_equal(o.machine, "lathe");
	assert_string_equal(o.job, "1200");
	assert_string_equal(o.revision, "A");
	assert_string_equal(o.who, "anna (uid 1002)");
	assert_string_equal(o.step, "");
	assert_int_equal(o.seq, a.order + 1);
	assert_parts(o.part, o.parts, part, 2);
	assert_int_equal(help_machine(b).order, a.order);
	assert_holds(b, VAULT_NOTHING, "", "", NULL, 0);

	say(b, vault_record_step, &a);
	assert_string_equal(help_find_order(b, a.order).step, "write");
	assert_holds(b, VAULT_UNKNOWN, "", "", NULL, 0);
	a.outcome = "replace";
	say(b, vault_record_step, &a);
	assert_string_equal(help_find_order(b, a.order).step, "replace");

	a.outcome = "none";
	a.text = "both are there";
	say(b, vault_record_carried, &a);
	assert_last(b, "carried", "lathe", "1200", "A", a.order);
	assert_int_equal(last.parts, 2); /* the order's, as none were told */
	assert_holds(b, VAULT_LOADED, "1200", "A", part, 2);
	m = help_machine(b);
	assert_false(m.read_back || m.proven || m.drift);
	assert_int_equal(m.order, 0);
	assert_string_equal(m.by, "anna (uid 1002)");
	assert_string_equal(m.text, "both are there");
	assert_true(m.since_us == b->now_us);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);

	say(b, vault_record_read_back, &a);
	assert_true(help_machine(b).read_back);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	help_assert_good(b, 0);
}

static void a_good_part_makes_the_last_good_pair(void **state)
{
	struct bench *b = *state;
	struct event_part good[2], next[2];
	struct vault_about a = {.machine = "lathe", .text = "first part measured"};
	struct vault_machine m;

	assert_refused(b, vault_record_proven, &a, "not known");
	help_loaded(b, "1200", "A", good);
	say(b, vault_record_proven, &a);
	assert_last(b, "proven", "lathe", "1200", "A", 0);
	assert_int_equal(last.parts, 2);
	m = help_machine(b);
	assert_true(m.proven && m.has_good && m.read_back);
	assert_string_equal(m.good_job, "1200");
	assert_string_equal(m.good_revision, "A");
	assert_parts(m.good, m.goods, good, 2);
	assert_string_equal(m.good_by, "service");
	assert_true(m.good_us == b->now_us);

	help_loaded(b, "1200", "B", next);
	m = help_machine(b);
	assert_false(m.proven);
	assert_parts(m.good, m.goods, good, 2);
	a.job = "1200";
	a.revision = "A";
	assert_refused(b, vault_record_proven, &a, "holds 1200@B");

	/* The last good pair is carried back: it is proven at once, but not read back. */
	a = (struct vault_about){.outcome = "write"};
	a.order = help_order(b, "restore", "1200", "A", good);
	say(b, vault_record_step, &a);
	say(b, vault_record_carried, &a);
	m = help_machine(b);
	assert_true(m.proven && !m.read_back);
	assert_holds(b, VAULT_LOADED, "1200", "A", good, 2);
	help_assert_good(b, 0);
}

/* Carried over a machine with a known content, up to its first step. */
static uint64_t half_way(struct bench *b, struct event_part old[2], struct event_part next[2])
{
	struct vault_about a = {.outcome = "transmit"};

	help_loaded(b, "1200", "A", old);
	say(b, vault_record_proven, &(struct vault_about){.machine = "lathe"});
	help_released(b, "1200", "B", next);
	a.order = help_order(b, "send", "1200", "B", next);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	say(b, vault_record_step, &a);
	/* What it held before is what it is believed to hold, and no more than that. */
	assert_holds(b, VAULT_UNKNOWN, "", "", old, 2);
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
	say(b, vault_record_kept, &a);
	assert_last(b, "kept", "lathe", "1200", "B", a.order);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	m = help_machine(b);
	assert_true(m.proven && m.read_back && m.order == 0);
	assert_string_equal(m.text, a.text);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	assert_string_equal(help_find_order(b, a.order).text, a.text);
	before = m;

	/* "again": back into the queue, with no step behind it. */
	a.order = help_order(b, "send", "1200", "B", next);
	say(b, vault_record_step, &a);
	a.outcome = "again";
	say(b, vault_record_kept, &a);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_QUEUED);
	say(b, vault_record_carrying, &a);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_CARRYING);
	assert_string_equal(help_find_order(b, a.order).step, "");
	say(b, vault_record_cancelled, &a);
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
	say(b, vault_record_cancelled, &a);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_CANCELLED);
	assert_int_equal(help_machine(b).order, 0);

	/* In the queue: the machine never heard of it. */
	before = help_machine(b);
	by = help_by(b, "anna");
	a = (struct vault_about){
	    .machine = "lathe", .job = "1200", .outcome = "send", .part = next, .parts = 2};
	a.order = vault_record_queued(b->v, &by, &a);
	assert_last(b, "queued", "lathe", "1200", "", a.order);
	assert_int_equal(last.seq, a.order);
	say(b, vault_record_cancelled,
	    &(struct vault_about){.order = a.order, .text = "never mind"});
	m = help_machine(b);
	assert_memory_equal(&m, &before, sizeof(m));
	assert_refused(
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
	say(b, vault_record_split, &a);
	assert_holds(b, VAULT_SPLIT, "", "", half, 2);
	assert_false(help_machine(b).proven || help_machine(b).read_back);
	assert_true(help_machine(b).has_good);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);

	a = (struct vault_about){.outcome = "write"};
	a.order = help_order(b, "restore", "1200", "A", old);
	say(b, vault_record_step, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", half, 2);
	say(b, vault_record_kept, &a);
	assert_holds(b, VAULT_SPLIT, "", "", half, 2);
	a.order = help_order(b, "restore", "1200", "A", old);
	say(b, vault_record_step, &a);
	say(b, vault_record_carried, &a);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
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
	say(b, vault_record_unknown, &a);
	seen[0] = next[0];
	seen[1] = old[1];
	assert_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	assert_true(help_machine(b).since_us == since);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	assert_int_equal(help_machine(b).order, 0);
	assert_refused(
	    b, vault_record_proven, &(struct vault_about){.machine = "lathe"}, "not known");

	/* A later order that changes nothing does not make it known. */
	a = (struct vault_about){
	    .order = help_order(b, "send", "1200", "B", next), .outcome = "offline"};
	say(b, vault_record_kept, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	a.order = help_order(b, "send", "1200", "B", next);
	say(b, vault_record_cancelled, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	/* Nor does an inspection that could not look, or that saw something else. */
	a.order = help_order(b, "inspect", "1200", "A", old);
	say(b, vault_record_kept, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	a.order = help_order(b, "inspect", "1200", "A", old);
	a.part = next;
	a.parts = 2;
	say(b, vault_record_kept, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", seen, 2);
	/* One that names the old programs does. */
	a.order = help_order(b, "inspect", "1200", "A", old);
	a.part = old;
	say(b, vault_record_kept, &a);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
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
	say(b, vault_record_unknown, &a);
	a.order = help_order(b, "inspect", "1200", "B", next);
	a.part = next;
	a.parts = 2;
	say(b, vault_record_carried, &a);
	assert_holds(b, VAULT_LOADED, "1200", "B", next, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	a.order = help_order(b, "inspect", "1200", "B", next);
	say(b, vault_record_split, &a);
	assert_holds(b, VAULT_SPLIT, "", "", next, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	a.order = help_order(b, "inspect", "1200", "B", next);
	say(b, vault_record_unknown, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", next, 2);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_FAILED);
	help_assert_good(b, 0);
}

static void a_fetch_brings_what_is_there(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], got[2];
	struct vault_about a = {.outcome = "x", .part = got, .parts = 2};

	help_loaded(b, "1200", "A", old);
	say(b, vault_record_drift,
	    &(struct vault_about){.machine = "lathe", .text = "a feed was changed"});
	assert_true(help_machine(b).drift && !help_machine(b).read_back);
	assert_string_equal(help_machine(b).text, "a feed was changed");

	/* One channel says nothing about the other. */
	got[0] = old[0];
	got[1] = help_part("lower", "changed at the control");
	a.order = help_order(b, "fetch", "1200", "A", NULL);
	a.parts = 1;
	say(b, vault_record_fetched, &a);
	assert_true(help_machine(b).drift && !help_machine(b).read_back);
	assert_int_equal(help_find_order(b, a.order).state, VAULT_DONE);
	assert_int_equal(help_machine(b).order, 0);
	a.order = help_order(b, "fetch", "1200", "A", NULL);
	a.parts = 2;
	say(b, vault_record_fetched, &a);
	assert_true(help_machine(b).drift);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	a.order = help_order(b, "fetch", "1200", "A", NULL);
	got[0] = old[1]; /* both as carried, in another order */
	got[1] = old[0];
	say(b, vault_record_fetched, &a);
	assert_true(help_machine(b).read_back && !help_machine(b).drift);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	help_assert_good(b, 0);
}

static void a_fetch_ends_doubt_when_it_is_the_old_pair(void **state)
{
	struct bench *b = *state;
	struct event_part old[2], next[2], got[2];
	struct vault_about a = {.outcome = "x", .part = got, .parts = 2};

	a.order = half_way(b, old, next);
	say(b, vault_record_unknown, &(struct vault_about){.order = a.order});
	got[0] = help_part("upper", "neither");
	got[1] = old[1];
	a.order = help_order(b, "fetch", "", "", NULL);
	say(b, vault_record_fetched, &a);
	assert_holds(b, VAULT_UNKNOWN, "", "", got, 2);
	a.order = help_order(b, "fetch", "", "", NULL);
	got[0] = old[0];
	say(b, vault_record_fetched, &a);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_true(help_machine(b).read_back && help_machine(b).proven);

	/* Over a serial line the bytes differ in leader and line ends: compared with the old pair,
	 * and equal. */
	a.order = help_order(b, "send", "1200", "B", next);
	say(b, vault_record_step, &a);
	say(b, vault_record_unknown, &(struct vault_about){.order = a.order});
	for (int i = 0; i < 2; i++) {
		got[i] = help_part(old[i].channel, i ? "lower, with leader" : "upper, with leader");
		got[i].has_before = true;
		got[i].before = next[i].after;
	}
	a.order = help_order(b, "fetch", "", "", NULL);
	say(b, vault_record_fetched, &a);
	say(b, vault_record_read_back, &a); /* compared with something else */
	assert_int_equal(help_machine(b).content, VAULT_UNKNOWN);
	got[0].before = old[0].after;
	got[1].before = old[1].after;
	say(b, vault_record_read_back, &a);
	assert_holds(b, VAULT_LOADED, "1200", "A", old, 2);
	assert_true(help_machine(b).read_back);
	help_assert_good(b, 0);
}

static void a_drifted_machine_is_not_proven(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe"};

	help_loaded(b, "1200", "A", part);
	say(b, vault_record_proven, &a);
	say(b, vault_record_drift, &a);
	assert_true(help_machine(b).drift && !help_machine(b).proven && !help_machine(b).read_back);
	assert_refused(b, vault_record_proven, &a, "no longer holds");
	say(b, vault_record_read_back, &a); /* the change was undone at the control */
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
	say(b, vault_record_locked, &a);
	m = help_machine(b);
	assert_true(m.locked);
	assert_string_equal(m.lock_text, "setter at work");
	assert_string_equal(m.text, "both programs are there");
	by = help_by(b, "anna");
	id = vault_record_queued(
	    b->v, &by, &(struct vault_about){.machine = "lathe", .outcome = "send"});
	assert_refused(b, vault_record_carrying, &(struct vault_about){.order = id}, "locked");
	id = help_order(b, "fetch", "", "", NULL); /* a question changes nothing there */
	say(b, vault_record_cancelled, &(struct vault_about){.order = id});
	say(b, vault_record_unlocked, &a);
	assert_false(help_machine(b).locked);
	assert_string_equal(help_machine(b).lock_text, "");

	say(b, vault_record_offline, &a);
	assert_true(help_machine(b).offline);
	say(b, vault_record_abandoned, &a);
	assert_true(help_machine(b).offline && help_machine(b).abandoned);
	say(b, vault_record_online, &a);
	assert_false(help_machine(b).offline || help_machine(b).abandoned);
	assert_holds(b, VAULT_LOADED, "1200", "A", part, 2);
	help_assert_good(b, 0);
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
	assert_refused(
	    b, vault_record_carrying, &(struct vault_about){.machine = "lathe"}, "names no order");
	assert_refused(b, vault_record_carrying, &(struct vault_about){.order = 99}, "no order 99");
	assert_refused(
	    b, vault_record_queued, &(struct vault_about){.machine = "lathe"}, "names no outcome");
	assert_refused(
	    b, vault_record_queued, &(struct vault_about){.outcome = "send"}, "names no machine");
	assert_refused(b, vault_record_locked, &(struct vault_about){0}, "names no machine");
	assert_refused(b, vault_record_carried,
	    &(struct vault_about){.machine = "lathe", .job = "1200"}, "names no program");
	assert_refused(
	    b, vault_record_locked, &(struct vault_about){.machine = name}, "more than 64");
	assert_refused(b, vault_record_held, &(struct vault_about){.job = name}, "more than 64");
	assert_refused(
	    b, vault_record_held, &(struct vault_about){.revision = name}, "more than 64");
	assert_refused(
	    b, vault_record_refused, &(struct vault_about){.part = many, .parts = 5}, "5 parts");
	assert_refused(b, vault_record_refused, &(struct vault_about){.parts = 1}, "parts");
	memset(many[0].channel, 'x', sizeof(many[0].channel));
	assert_refused(
	    b, vault_record_refused, &(struct vault_about){.part = many, .parts = 1}, "no end");

	id = vault_record_queued(b->v, &by, &a);
	other = vault_record_queued(b->v, &by, &a);
	assert_true(id > 0 && other > 0);
	assert_refused(
	    b, vault_record_step, &(struct vault_about){.order = id, .outcome = "write"}, "queued");
	assert_refused(b, vault_record_carrying,
	    &(struct vault_about){.order = id, .machine = "mill"}, "for machine lathe");
	say(b, vault_record_carrying, &(struct vault_about){.order = id});
	assert_refused(b, vault_record_carrying, &(struct vault_about){.order = other}, "busy");
	say(b, vault_record_kept, &(struct vault_about){.order = id});
	assert_refused(b, vault_record_carrying, &(struct vault_about){.order = id}, "failed");
	name[YOKE_NAME_MAX] = 0;
	say(b, vault_record_locked, &(struct vault_about){.machine = name});
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
	    TEST(a_pair_travels_to_the_machine),
	    TEST(a_good_part_makes_the_last_good_pair),
	    TEST(a_failed_order_that_kept_the_old_pair),
	    TEST(an_order_is_cancelled),
	    TEST(a_split_machine_says_so_until_it_is_put_right),
	    TEST(unknown_stays_unknown_until_something_was_read),
	    TEST(an_inspection_finds_out),
	    TEST(a_fetch_brings_what_is_there),
	    TEST(a_fetch_ends_doubt_when_it_is_the_old_pair),
	    TEST(a_drifted_machine_is_not_proven),
	    TEST(a_machine_is_locked_and_reached),
	    TEST(what_must_not_be_is_refused),
	    TEST(a_transaction_is_all_or_nothing),
	    TEST(every_kind_has_its_record),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
