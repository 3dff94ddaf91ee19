/*
 * Goal: who stands for a pair is kept for exactly those programs; what was withdrawn is neither released
 * nor given to a machine again, whatever is decided on it; and all of it is a fold of the trail, also in
 * a vault of the version before.
 */
#include "record_help.h"

static struct vault_about about(
    const char *revision, const char *outcome, const char *text, const struct event_part part[2])
{
	return (struct vault_about){.machine = "lathe",
	    .job = "1200",
	    .revision = revision,
	    .outcome = outcome,
	    .text = text,
	    .part = part,
	    .parts = 2};
}

struct seen {
	int n;
	struct vault_acceptance last;
};

static int see(void *ctx, const struct vault_acceptance *a)
{
	struct seen *s = ctx;

	s->n++;
	s->last = *a;
	return 0;
}

static struct seen acceptances(struct bench *b, const char *revision, const struct event_part *other)
{
	struct vault_pair p;
	struct seen s = {0};

	assert_int_equal(vault_pair(b->v, "lathe", "1200", revision, &p), 1);
	if (other)
		p.part[0].sha = other->after;
	assert_int_equal(vault_acceptances(b->v, &p, see, &s), 0);
	return s;
}

static enum vault_pair_state state_of(struct bench *b, const char *revision)
{
	struct vault_pair p;

	assert_int_equal(vault_pair(b->v, "lathe", "1200", revision, &p), 1);
	return p.state;
}

static void who_stands_for_a_pair(void **state)
{
	struct bench *b = *state;
	struct event_part c[2], d[2], turned[2];
	struct vault_about a;
	struct seen s;

	help_released(b, "1200", "C", c);
	help_released(b, "1200", "D", d);
	assert_int_equal(acceptances(b, "C", NULL).n, 0);
	turned[0] = c[1];
	turned[1] = c[0];
	a = about("C", VAULT_SECOND, "", turned); /* the order of the channels says nothing */
	record_help_say(b, vault_record_accepted, &a);
	a.part = c;
	record_help_say(b, vault_record_accepted, &a);
	assert_int_equal(acceptances(b, "C", NULL).n, 1);
	a = about("C", "number-clash", "the other job is done", c);
	record_help_say(b, vault_record_accepted, &a);
	s = acceptances(b, "C", NULL);
	assert_int_equal(s.n, 2);
	assert_string_equal(s.last.rule, "number-clash");
	assert_string_equal(s.last.text, "the other job is done");
	assert_string_equal(s.last.who, "service");
	assert_int_equal(acceptances(b, "D", NULL).n, 0);
	assert_int_equal(acceptances(b, "C", &d[0]).n, 0); /* the same revision, another program */

	/* No reason, no such pair, programs that are not its own. */
	a = about("C", "number-clash", "", c);
	record_help_refused(b, vault_record_accepted, &a, "needs a reason");
	a = about("E", VAULT_SECOND, "", c);
	record_help_refused(b, vault_record_accepted, &a, "no pair of job 1200 at revision E");
	a = about("C", VAULT_SECOND, "", d);
	record_help_refused(b, vault_record_accepted, &a, "other programs");
	a = about("C", "", "", c);
	record_help_refused(b, vault_record_accepted, &a, "outcome");
	help_reopen(b);
	assert_int_equal(acceptances(b, "C", NULL).n, 2);
	help_assert_good(b, 0);
}

static void what_was_withdrawn_stays_so(void **state)
{
	struct bench *b = *state;
	struct event_part c[2], d[2];
	struct vault_withdrawal w;
	struct vault_about a;
	struct vault_pair p;
	struct vault_part part[2];

	help_released(b, "1200", "C", c);
	help_released(b, "1200", "D", d);
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "C", &p), 1);
	memcpy(part, p.part, sizeof(part));
	a = about("C", "", "", c);
	record_help_refused(b, vault_record_withdrawn, &a, "needs a reason");
	a.text = "the drawing is wrong";
	record_help_say(b, vault_record_withdrawn, &a);
	assert_int_equal(state_of(b, "C"), VAULT_WITHDRAWN);
	assert_int_equal(state_of(b, "D"), VAULT_RELEASED);
	record_help_refused(b, vault_record_withdrawn, &a, "withdrawn before");
	a.outcome = VAULT_SECOND;
	record_help_refused(b, vault_record_accepted, &a, "withdrawn before");

	/* Its place among the job's revisions is as it was. */
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "C", &p), 1);
	assert_string_equal(p.text, "the drawing is wrong");
	assert_string_equal(p.who, "service");
	assert_int_equal(vault_pair(b->v, "lathe", "1200", "", &p), 1);
	assert_string_equal(p.revision, "D");

	/* Neither released again, nor given to a machine; looking at the machine stays possible. */
	a = about("C", "agree", "", c);
	record_help_refused(b, vault_record_released, &a, "was withdrawn");
	record_help_say(b, vault_record_held, &a);
	assert_int_equal(state_of(b, "C"), VAULT_WITHDRAWN);
	for (int i = 0; i < 4; i++) {
		static const char *const act[] = {"send", "restore", "drip", "dry-run"};

		a.outcome = act[i];
		record_help_refused(b, vault_record_queued, &a, "was withdrawn");
	}
	record_help_refused(b, vault_record_exported, &a, "was withdrawn");
	a.outcome = "fetch";
	record_help_say(b, vault_record_queued, &a);
	a = about("D", "send", "", d);
	record_help_say(b, vault_record_queued, &a);

	/* By program, wherever they lie: in the machine's own folder or in that of all. */
	assert_int_equal(vault_withdrawn(b->v, "lathe", "1200", "C", part, 2, &w), 1);
	assert_string_equal(w.text, "the drawing is wrong");
	assert_int_equal(vault_withdrawn(b->v, "lathe", "1200", "C", &part[1], 1, &w), 1);
	assert_int_equal(vault_withdrawn(b->v, "mill", "1200", "C", part, 2, &w), 0);
	assert_int_equal(vault_withdrawn(b->v, "lathe", "1200", "D", part, 2, &w), 0);
	part[0].sha = d[0].after;
	part[1].sha = d[1].after;
	assert_int_equal(vault_withdrawn(b->v, "lathe", "1200", "C", part, 2, &w), 0);
	help_reopen(b);
	assert_int_equal(state_of(b, "C"), VAULT_WITHDRAWN);
	help_assert_good(b, 0);
}

/* Somebody with a database tool lets a withdrawn pair be sent, or stands for one in another's name. */
static void a_state_that_no_entry_made(void **state)
{
	static const char *const forged[] = {
	    "DELETE FROM withdrawal",
	    "UPDATE withdrawal SET text='other'",
	    "UPDATE acceptance SET who='clara (uid 1004)'",
	    "INSERT INTO acceptance SELECT area,job,revision,parts,'size',seq,utc_us,who,text FROM acceptance",
	    "UPDATE pair SET state=1 WHERE state=2",
	};
	struct bench *b = *state;
	struct event_part c[2];
	struct vault_verdict out;
	struct vault_about a;

	help_released(b, "1200", "C", c);
	a = about("C", VAULT_SECOND, "", c);
	record_help_say(b, vault_record_accepted, &a);
	a.text = "the drawing is wrong";
	record_help_say(b, vault_record_withdrawn, &a);
	help_assert_good(b, 0);
	for (size_t i = 0; i < sizeof(forged) / sizeof(forged[0]); i++) {
		assert_int_equal(vault_begin(b->v), 0);
		assert_int_equal(sqlite3_exec(b->v->db, forged[i], NULL, NULL, NULL), SQLITE_OK);
		assert_int_equal(vault_verify(b->v, false, &out), 0);
		if (out.good)
			fail_msg("nobody found: %s", forged[i]);
		vault_rollback(b->v);
	}
	help_assert_good(b, 0);
}

static void an_earlier_vault(void **state)
{
	struct bench *b = *state;
	struct event_part c[2];
	struct vault_about a;

	help_released(b, "1200", "C", c);
	vault_close(b->v);
	help_sql(b->path, "DROP TABLE acceptance; DROP TABLE withdrawal; PRAGMA user_version=5;");
	help_open(b);
	a = about("C", VAULT_SECOND, "", c);
	record_help_say(b, vault_record_accepted, &a);
	a.text = "the drawing is wrong";
	record_help_say(b, vault_record_withdrawn, &a);
	help_reopen(b);
	assert_int_equal(acceptances(b, "C", NULL).n, 1);
	assert_int_equal(state_of(b, "C"), VAULT_WITHDRAWN);
	help_assert_good(b, 0);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(who_stands_for_a_pair),
	    TEST(what_was_withdrawn_stays_so),
	    TEST(a_state_that_no_entry_made),
	    TEST(an_earlier_vault),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
