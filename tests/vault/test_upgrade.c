/*
 * Goal: a vault that an earlier version wrote is opened with its whole trail, and its state is what
 * this version makes of it; one whose trail does not fit is left as it is.
 */
#include <stdio.h>
#include "vault_help.h"

/* As an earlier version had it: a column fewer, and a state that this one would not have. */
#define EARLIER                                                                                    \
	"ALTER TABLE orders DROP COLUMN rank; UPDATE machine SET content=0, job='';"               \
	"DELETE FROM pair; PRAGMA user_version=1;"

static int count(void *ctx, const struct vault_order *o)
{
	++*(int *)ctx;
	return 0;
}

static void an_earlier_vault(void **state)
{
	struct bench *b = *state;
	struct vault_machine m;
	struct event_part part[2];
	struct vault_pair p;
	int orders = 0;

	help_loaded(b, "J4417", "C", part);
	vault_close(b->v);
	help_sql(b->path, EARLIER);
	help_open(b);
	help_assert_good(b, 0);
	assert_int_equal(vault_machine(b->v, "lathe", &m), 1);
	assert_int_equal(m.content, VAULT_LOADED);
	assert_string_equal(m.job, "J4417");
	assert_int_equal(vault_pair(b->v, "lathe", "J4417", "C", &p), 1);
	assert_int_equal(vault_orders(b->v, NULL, false, count, &orders), 0);
	assert_int_equal(orders, 1);
	/* And it goes on. */
	help_released(b, "J4417", "D", part);
	help_reopen(b);
	help_assert_good(b, 0);
}

static void assert_left(struct bench *b, const char *why_part)
{
	char why[1100] = "";
	sqlite3 *db;

	b->v = vault_open(b->path, why, sizeof(why));
	assert_null(b->v);
	if (!strstr(why, why_part))
		fail_msg("'%s' does not say '%s'", why, why_part);
	assert_int_equal(sqlite3_open(b->path, &db), SQLITE_OK);
	assert_int_equal(help_number(db, "PRAGMA user_version"), 1);
	assert_int_equal(help_number(db, "SELECT count(*) FROM pair"), 0);
	sqlite3_close(db);
}

/* The trail was cut short, or holds what cannot be read: no state is made that would fit it. */
static void a_trail_that_does_not_fit(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];

	help_released(b, "J4417", "C", part);
	vault_close(b->v);
	help_sql(b->path, EARLIER "DROP TRIGGER event_remains; DROP TRIGGER event_stays; DROP TRIGGER event_follows;"
	                          "CREATE TABLE aside AS SELECT * FROM event;"
	                          "DELETE FROM event WHERE seq=(SELECT max(seq) FROM event);");
	assert_left(b, "does not end where it says");
	help_sql(b->path, "INSERT INTO event SELECT * FROM aside WHERE seq=(SELECT max(seq) FROM aside);"
	                  "UPDATE event SET kind='baked' WHERE seq=2;");
	assert_left(b, "cannot be read");
	help_sql(b->path,
	    "UPDATE event SET kind=(SELECT kind FROM aside WHERE seq=2) WHERE seq=2; DROP TABLE aside;");
	help_open(b);
}

/* An order that waits goes before others when somebody says so; the newest word counts. */
static void orders_are_moved(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	struct vault_order o;
	struct vault_by by;
	uint64_t id[3];

	help_released(b, "J4417", "C", part);
	for (int i = 0; i < 3; i++) {
		by = help_by(b, "anna");
		id[i] = vault_record_queued(b->v, &by,
		    &(struct vault_about){.machine = "lathe", .job = "J4417", .revision = "C",
		        .outcome = "send", .part = part, .parts = 2});
		assert_true(id[i]);
	}
	for (int i = 1; i < 3; i++) {
		by = help_by(b, "bela");
		assert_true(
		    vault_record_moved(b->v, &by, &(struct vault_about){.order = id[i]}) > 0);
	}
	assert_int_equal(vault_order(b->v, id[2], &o), 1);
	assert_int_equal(o.rank, -2);
	assert_int_equal(o.state, VAULT_QUEUED);
	assert_int_equal(vault_order(b->v, id[0], &o), 1);
	assert_int_equal(o.rank, 0);
	help_reopen(b);
	help_assert_good(b, 0);
	by = help_by(b, "anna");
	assert_true(vault_record_cancelled(b->v, &by, &(struct vault_about){.order = id[2]}) > 0);
	assert_int_equal(
	    vault_record_moved(b->v, &by, &(struct vault_about){.order = id[2]}), 0);
	assert_non_null(strstr(vault_error(b->v), "only one that waits is moved"));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(an_earlier_vault, help_setup, help_teardown),
	    cmocka_unit_test_setup_teardown(a_trail_that_does_not_fit, help_setup, help_teardown),
	    cmocka_unit_test_setup_teardown(orders_are_moved, help_setup, help_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
