/*
 * Goal: whoever changes the vault behind Yoke's back, with a database tool and without its guards,
 * is found, and the first thing that does not fit is named. And with the guards in place, the tool
 * is stopped.
 */
#include <openssl/sha.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include "vault_help.h"

#define NO_EVENT_GUARDS                                                                            \
	"DROP TRIGGER event_stays; DROP TRIGGER event_remains; DROP TRIGGER event_follows;"
#define NO_GUARDS                                                                                  \
	NO_EVENT_GUARDS                                                                            \
	"DROP TRIGGER program_stays; DROP TRIGGER program_remains;"                                \
	"DROP TRIGGER piece_stays; DROP TRIGGER piece_remains;"
#define EVENT_GUARDS                                                                               \
	"CREATE TRIGGER event_follows BEFORE INSERT ON event"                                      \
	" WHEN NEW.seq IS NOT (SELECT seq+1 FROM trail)"                                           \
	" BEGIN SELECT RAISE(ABORT,'an entry must follow the last one'); END;"                     \
	"CREATE TRIGGER event_stays BEFORE UPDATE ON event"                                        \
	" BEGIN SELECT RAISE(ABORT,'an entry is never changed'); END;"                             \
	"CREATE TRIGGER event_remains BEFORE DELETE ON event"                                      \
	" BEGIN SELECT RAISE(ABORT,'an entry is never removed'); END;"

/* A vault after a day, made once: each tamperer gets a copy. */
static unsigned char *day;
static size_t day_size;

static int make_day(void **unused)
{
	void *state;
	struct bench *b;

	help_setup(&state);
	b = state;
	help_day(b);
	vault_close(b->v);
	day = help_read_file(b->path, &day_size);
	help_open(b);
	return help_teardown(&state);
}

static int forget_day(void **unused)
{
	free(day);
	return 0;
}

/* The tamperer's SQL on the closed file of a day, then the answer of verify. */
static struct vault_verdict after(struct bench *b, const char *sql)
{
	struct vault_verdict out;
	char all[4000];

	vault_close(b->v);
	help_write_file(b->path, day, day_size);
	snprintf(all, sizeof(all), "PRAGMA synchronous=OFF;%s%s", NO_GUARDS, sql);
	help_sql(b->path, all);
	help_open(b);
	if (vault_verify(b->v, true, &out) != 0)
		fail_msg("%s", vault_error(b->v));
	return out;
}

static void assert_found(struct bench *b, const char *sql, uint64_t first_bad, const char *text)
{
	struct vault_verdict out = after(b, sql);

	assert_false(out.good);
	if (out.first_bad != first_bad || !strstr(out.text, text))
		fail_msg("after \"%s\": entry %llu, \"%s\"", sql, (unsigned long long)out.first_bad,
		    out.text);
}

/* Each in a vault of its own. */
static void each(const char *const *sql, uint64_t first_bad, const char *text)
{
	for (; *sql; sql++) {
		void *state;

		help_setup(&state);
		assert_found(state, *sql, first_bad, text);
		help_teardown(&state);
	}
}

static void every_changed_field_of_an_entry_is_found(void **state)
{
	static const char *const sql[] = {"UPDATE event SET utc_us=utc_us+1 WHERE seq=5",
	    "UPDATE event SET ord=ord+1 WHERE seq=5", "UPDATE event SET kind='held' WHERE seq=5",
	    "UPDATE event SET who='somebody else' WHERE seq=5",
	    "UPDATE event SET origin='x' WHERE seq=5",
	    "UPDATE event SET machine='mill' WHERE seq=5",
	    "UPDATE event SET job='1201' WHERE seq=5", "UPDATE event SET revision='Z' WHERE seq=5",
	    "UPDATE event SET outcome='x' WHERE seq=5", "UPDATE event SET text='x' WHERE seq=5",
	    "UPDATE event SET detail='' WHERE seq=5",
	    "UPDATE event SET parts=x'00000000' WHERE seq=5",
	    "UPDATE event SET parts=x'' WHERE seq=5",
	    "UPDATE event SET hash=zeroblob(32) WHERE seq=5",
	    /* one field's end moved into the next */
	    "UPDATE event SET job=substr(job,1,3), revision=substr(job,4)||revision WHERE seq=5",
	    "UPDATE event SET detail=detail||x'00' WHERE seq=5", NULL};

	each(sql, 5, "does not have its hash");
}

static void a_removed_entry_is_found(void **state)
{
	static const char *const sql[] = {"DELETE FROM event WHERE seq=7",
	    "DELETE FROM event WHERE seq=7 OR seq=9",
	    "DELETE FROM event WHERE seq BETWEEN 7 AND 12", "UPDATE event SET seq=1000 WHERE seq=7",
	    NULL};
	static const char *const first[] = {"DELETE FROM event WHERE seq=1", NULL};
	static const char *const closed[] = {
	    "DELETE FROM event WHERE seq=7; UPDATE event SET seq=seq-1 WHERE seq>7", NULL};

	each(sql, 7, "entry 7 is missing");
	each(first, 1, "entry 1 is missing");
	each(closed, 7, "does not have its hash");
}

static void a_changed_order_of_entries_is_found(void **state)
{
	static const char *const sql[] = {
	    "UPDATE event SET seq=-6 WHERE seq=6; UPDATE event SET seq=6 WHERE seq=7;"
	    "UPDATE event SET seq=7 WHERE seq=-6",
	    "INSERT INTO event SELECT "
	    "seq+1000,utc_us,ord,kind,who,origin,machine,job,revision,outcome,hash,"
	    "parts,text,detail FROM event WHERE seq>=6; DELETE FROM event WHERE seq BETWEEN 6 AND "
	    "1000;"
	    "INSERT INTO event SELECT "
	    "6,utc_us,ord,kind,who,origin,machine,job,revision,outcome,hash,parts,text,"
	    "detail FROM event WHERE seq=1007",
	    NULL};
	static const char *const before[] = {"UPDATE event SET seq=0 WHERE seq=1", NULL};

	each(sql, 6, "does not have its hash");
	each(before, 1, "entry 1 is missing");
}

static void a_trail_cut_at_its_end_is_found(void **state)
{
	struct bench *b = *state;
	uint64_t n = help_day(b);
	struct vault_verdict out;
	char sql[3000];
	struct vault_by by = help_by(b, "service");

	vault_close(b->v);
	snprintf(sql, sizeof(sql), NO_EVENT_GUARDS "DELETE FROM event WHERE seq>%llu;" EVENT_GUARDS,
	    (unsigned long long)n - 3);
	help_sql(b->path, sql);
	help_open(b);
	assert_int_equal(vault_verify(b->v, true, &out), 0);
	assert_false(out.good);
	assert_int_equal(out.first_bad, n - 2);
	assert_non_null(strstr(out.text, "missing at the end"));
	/* Work goes on, and the gap stays where it is. */
	assert_int_equal(vault_record_stopped(b->v, &by), n + 1);
	assert_int_equal(vault_verify(b->v, true, &out), 0);
	assert_false(out.good);
	assert_int_equal(out.first_bad, n - 2);
}

static void a_changed_state_is_found(void **state)
{
	static const struct {
		const char *sql, *text;
	} row[] = {
	    {"UPDATE machine SET locked=1", "machine lathe, column locked"},
	    {"UPDATE machine SET proven=1-proven", "machine lathe, column proven"},
	    {"UPDATE machine SET parts=x'00000000'", "machine lathe, column parts"},
	    {"UPDATE machine SET good_job='x'", "machine lathe, column good_job"},
	    {"DELETE FROM machine", "a row of the state is missing: machine lathe"},
	    {"INSERT INTO machine SELECT "
	     "'mill',content,job,revision,parts,read_back,proven,drift,locked,offline,"
	     "abandoned,ord,since_us,asked_by,lock_text,text,has_good,good_job,good_revision,good,"
	     "good_us,good_by,"
	     "unsure,unsure_before,told,unsure_us,unsure_by FROM machine",
	        "a row that no entry made: machine mill"},
	    {"UPDATE pair SET state=1 WHERE job='1201'", "pair lathe/1201/, column state"},
	    {"DELETE FROM pair WHERE job='1201'",
	        "a row of the state is missing: pair lathe/1201/"},
	    {"UPDATE slot SET sha=zeroblob(32) WHERE channel='upper' AND revision='A'",
	        "slot lathe/1200/A/upper, column sha"},
	    {"DELETE FROM release WHERE revision='A'",
	        "a row of the state is missing: release lathe/1200/A"},
	    {"UPDATE orders SET state=0 WHERE id=6", "orders 6, column state"},
	    {"UPDATE orders SET id=5 WHERE id=6", "a row that no entry made: orders 5"},
	    {"DELETE FROM path WHERE path LIKE '%A.upper%'", "a row of the state is missing: path"},
	    {"UPDATE trail SET head=zeroblob(32)", "trail 1, column head"},
	    {"UPDATE trail SET seq=seq-1", "trail 1, column seq"},
	    {"DELETE FROM trail", "the trail's end is missing"},
	    /* a row that no terminal should see as it is */
	    {"UPDATE slot SET job=char(27)||'[2J' WHERE channel='upper' AND revision='A'",
	        "slot lathe/?[2J/A/upper"},
	};

	for (size_t i = 0; i < sizeof(row) / sizeof(row[0]); i++) {
		void *s;

		help_setup(&s);
		assert_found(s, row[i].sql, 0, row[i].text);
		help_teardown(&s);
	}
}

static void a_changed_program_is_found(void **state)
{
	static const struct {
		const char *sql, *text;
	} row[] = {
	    {"UPDATE piece SET bytes=CAST(replace(CAST(bytes AS TEXT),'1200','1201') AS BLOB) "
	     "WHERE program=2",
	        "do not have its SHA-256"},
	    {"DELETE FROM piece WHERE program=2", "do not have its SHA-256"},
	    {"UPDATE piece SET n=1 WHERE program=2", "a piece of a program is missing"},
	    {"DELETE FROM piece WHERE program=2; DELETE FROM program WHERE id=2",
	        "which arrived with entry 4, is missing"},
	    {"UPDATE program SET size=size+1 WHERE id=2", "were stored"},
	    {"UPDATE program SET sha=zeroblob(32) WHERE id=2",
	        "which arrived with entry 4, is missing"},
	    {"PRAGMA foreign_keys=OFF; INSERT INTO piece VALUES(99,0,x'00')",
	        "pieces of a program"},
	};

	for (size_t i = 0; i < sizeof(row) / sizeof(row[0]); i++) {
		void *s;

		help_setup(&s);
		assert_found(s, row[i].sql, 0, row[i].text);
		help_teardown(&s);
	}
}

static void a_changed_layout_is_found(void **state)
{
	static const char *const gone[] = {"", NULL}; /* the guards alone */
	static const char *const table[] = {"DROP TABLE slot", NULL};
	static const char *const view[] = {"CREATE VIEW x AS SELECT * FROM event", NULL};

	each(gone, 0, "missing: layout trigger/event_follows");
	each(table, 0, "missing: layout table/slot");
	each(view, 0, "a row that no entry made: layout view/x");
}

/* The whole chain rewritten from the changed entry on, as in entry.h: the tree no longer fits, nor the
 * state. Who rewrites these too is found in test_seal.c. */
static void a_rewritten_chain_does_not_fit_the_tree(void **state)
{
	struct bench *b = *state;
	sqlite3 *db;
	sqlite3_stmt *s;
	unsigned char prev[32] = {0};
	struct vault_verdict out;

	help_day(b);
	vault_close(b->v);
	help_sql(b->path, NO_GUARDS "UPDATE event SET kind='unlocked' WHERE kind='proven'");
	assert_int_equal(sqlite3_open(b->path, &db), SQLITE_OK);
	assert_int_equal(
	    sqlite3_prepare_v2(db,
	        "SELECT "
	        "seq,utc_us,ord,kind,who,origin,machine,job,revision,outcome,text,detail,parts"
	        " FROM event ORDER BY seq",
	        -1, &s, NULL),
	    SQLITE_OK);
	while (sqlite3_step(s) == SQLITE_ROW) {
		unsigned char body[4096];
		size_t n = 0;
		char sql[200], hex[65];

		memcpy(body, prev, 32);
		memcpy(body + 32, "yoke event 1\n", 13);
		n = 45;
		for (int i = 0; i < 3; i++)
			for (int k = 7; k >= 0; k--)
				body[n++] =
				    (unsigned char)(sqlite3_column_int64(s, i) >> 8 * k & 0xff);
		for (int i = 3; i < 13; i++) {
			uint32_t len = (uint32_t)sqlite3_column_bytes(s, i);

			for (int k = 3; k >= 0 && i < 12; k--)
				body[n++] = len >> 8 * k & 0xff;
			if (len > 0)
				memcpy(body + n, sqlite3_column_blob(s, i), len);
			n += len;
		}
		SHA256(body, n, prev);
		for (int i = 0; i < 32; i++)
			sprintf(hex + 2 * i, "%02x", prev[i]);
		snprintf(sql, sizeof(sql), "UPDATE event SET hash=x'%s' WHERE seq=%lld", hex,
		    (long long)sqlite3_column_int64(s, 0));
		assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	}
	sqlite3_finalize(s);
	sqlite3_close(db);
	help_open(b);
	assert_int_equal(vault_verify(b->v, true, &out), 0);
	assert_false(out.good);
	assert_int_equal(out.first_bad, 0);
	assert_non_null(strstr(out.text, "the tree over the trail is not what entry"));
}

static void honest_mistakes_are_stopped(void **state)
{
	struct bench *b = *state;
	static const struct {
		const char *sql, *why;
	} row[] = {
	    {"UPDATE event SET who='x' WHERE seq=1", "never changed"},
	    {"DELETE FROM event WHERE seq=1", "never removed"},
	    {"INSERT OR REPLACE INTO event SELECT * FROM event WHERE seq=1", "must follow"},
	    {"INSERT INTO event SELECT "
	     "1000,utc_us,ord,kind,who,origin,machine,job,revision,outcome,hash,parts,text,"
	     "detail FROM event WHERE seq=1",
	        "must follow"},
	    {"UPDATE program SET size=0 WHERE id=1", "never changed"},
	    {"DELETE FROM program WHERE id=1", "never removed"},
	    {"UPDATE piece SET bytes=x'00' WHERE program=1", "never changed"},
	    {"DELETE FROM piece WHERE program=1", "never removed"},
	};
	uint64_t n = help_day(b);
	sqlite3 *db;

	assert_int_equal(sqlite3_open(b->path, &db), SQLITE_OK);
	for (size_t i = 0; i < sizeof(row) / sizeof(row[0]); i++)
		help_assert_stopped(db, row[i].sql, row[i].why);
	sqlite3_close(db);
	help_assert_good(b, n);
}

/* A hundred thousand entries are checked in seconds: an operator waits for it. */
static void a_long_trail_is_verified_quickly(void **state)
{
	struct bench *b = *state;
	enum { EVENTS = 100000 };
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe",
	    .revision = "A",
	    .part = part,
	    .parts = 2,
	    .outcome = "agree",
	    .text = "t",
	    .detail = "{\"findings\":[],\"wait\":{\"upper\":[100,200],\"lower\":[100,200]}}"};
	struct vault_verdict out;
	struct timespec t0, t1;
	double s;

	help_pair(b, "x", part);
	assert_int_equal(vault_begin(b->v), 0);
	for (int i = 0; i < EVENTS; i++) {
		struct vault_by by = {i, "anna (uid 1002)", "folder"};
		char job[16];

		snprintf(job, sizeof(job), "%d", i / 4);
		a.job = job;
		assert_int_equal(
		    (i % 2 ? vault_record_released : vault_record_arrived)(b->v, &by, &a), i + 1);
	}
	assert_int_equal(vault_commit(b->v), 0);
	clock_gettime(CLOCK_MONOTONIC, &t0);
	assert_int_equal(vault_verify(b->v, true, &out), 0);
	clock_gettime(CLOCK_MONOTONIC, &t1);
	s = (double)(t1.tv_sec - t0.tv_sec) + (double)(t1.tv_nsec - t0.tv_nsec) / 1e9;
	assert_true(out.good);
	assert_int_equal(out.events, EVENTS);
	print_message("%d entries verified in %.2f s\n", EVENTS, s);
	assert_true(s < 30); /* ten times what it takes here, for slow and loaded machines */
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_changed_field_of_an_entry_is_found),
	    cmocka_unit_test(a_removed_entry_is_found),
	    cmocka_unit_test(a_changed_order_of_entries_is_found),
	    TEST(a_trail_cut_at_its_end_is_found),
	    cmocka_unit_test(a_changed_state_is_found),
	    cmocka_unit_test(a_changed_program_is_found),
	    cmocka_unit_test(a_changed_layout_is_found),
	    TEST(a_rewritten_chain_does_not_fit_the_tree),
	    TEST(honest_mistakes_are_stopped),
	    TEST(a_long_trail_is_verified_quickly),
	};
	return cmocka_run_group_tests(tests, make_day, forget_day);
}
