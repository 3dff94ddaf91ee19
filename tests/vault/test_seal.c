/*
 * Goal: what was signed stays what it was, or it is told from where on it is not: a trail that was cut,
 * changed or rewritten as a whole, with chain, tree and state that fit, by somebody who has no key. And
 * every entry can be proved to somebody who has the public key alone.
 */
#include <openssl/sha.h>
#include <stdio.h>
#include <stdlib.h>
#include "proof.h"
#include "vault_help.h"

#define NO_GUARDS                                                                                  \
	"DROP TRIGGER checkpoint_stays; DROP TRIGGER checkpoint_remains;"                          \
	"DROP TRIGGER checkpoint_follows;"
#define GUARDS                                                                                     \
	"CREATE TRIGGER checkpoint_follows BEFORE INSERT ON checkpoint"                            \
	" WHEN NEW.n IS NOT (SELECT coalesce(max(n),0)+1 FROM checkpoint)"                         \
	" OR NEW.size<=(SELECT coalesce(max(size),0) FROM checkpoint)"                             \
	" BEGIN SELECT RAISE(ABORT,'a checkpoint must follow the last one'); END;"                 \
	"CREATE TRIGGER checkpoint_stays BEFORE UPDATE ON checkpoint"                              \
	" BEGIN SELECT RAISE(ABORT,'a checkpoint is never changed'); END;"                         \
	"CREATE TRIGGER checkpoint_remains BEFORE DELETE ON checkpoint"                            \
	" BEGIN SELECT RAISE(ABORT,'a checkpoint is never removed'); END;"

static struct vault_verdict verdict(struct bench *b)
{
	struct vault_verdict out;

	if (vault_verify(b->v, true, &out) != 0)
		fail_msg("%s", vault_error(b->v));
	return out;
}

static void assert_bad(struct bench *b, uint64_t first_bad, const char *text)
{
	struct vault_verdict out = verdict(b);

	if (out.good || out.first_bad != first_bad || !strstr(out.text, text))
		fail_msg("good %d, entry %llu, \"%s\"", out.good, (unsigned long long)out.first_bad,
		    out.text);
}

/* Somebody's SQL on the closed file. */
static void tamper(struct bench *b, const char *sql)
{
	vault_close(b->v);
	help_sql(b->path, sql);
	help_open(b);
}

static void lock(struct bench *b, const char *why)
{
	struct vault_by by = help_by(b, "anna (uid 1002)");

	assert_recorded(b, vault_record_locked(b->v, &by,
	                       &(struct vault_about){.machine = "lathe", .text = why}));
}

/* --- Signing --- */

static void a_trail_is_sealed(void **state)
{
	struct bench *b = *state;
	struct vault_verdict out;
	struct checkpoint c;
	struct note_key key;
	uint64_t end, last;

	assert_int_equal(vault_key(b->v, &key), 0);
	assert_int_equal(vault_sealed(b->v, &c), 0);
	last = help_day(b); /* its key is made before its last entry */
	assert_int_equal(vault_end(b->v, &end), 0);
	assert_int_equal(end, last);
	assert_int_equal(help_seal(b, 1), 1);
	assert_int_equal(help_seal(b, 1), 0);
	lock(b, "one");
	assert_int_equal(help_seal(b, 1), 1);
	assert_int_equal(vault_sealed(b->v, &c), 1);
	assert_int_equal(c.number, 3);
	assert_int_equal(c.size, last + 1);
	assert_int_equal(vault_key(b->v, &key), 1);
	assert_string_equal(c.origin, key.name);
	lock(b, "two");
	out = verdict(b);
	if (!out.good)
		fail_msg("%s", out.text);
	assert_int_equal(out.events, last + 2);
	assert_int_equal(out.checkpoints, 3);
	assert_int_equal(out.sealed, last + 1);
	assert_int_equal(out.sealed_s, c.utc_s);
	assert_int_equal(out.unsigned_key, 0);
	assert_non_null(strstr(out.text, ", 3 checkpoints"));
	help_reopen(b);
	assert_int_equal(help_seal(b, 1), 1);
	help_assert_good(b, last + 2);
}

static void only_the_key_in_force_signs(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "service");

	lock(b, "one");
	assert_int_equal(help_seal(b, 1), -1);
	assert_non_null(strstr(vault_error(b->v), "not the one that the trail names"));
	help_key(b, 1, 0);
	lock(b, "two");
	assert_int_equal(help_seal(b, 2), -1);
	assert_int_equal(help_seal(b, 1), 1);
	/* What is no key, or one of another trail, is none for this one. */
	assert_int_equal(
	    vault_record_keyed(b->v, &by, &(struct vault_about){.outcome = "a key"}), 0);
	assert_int_equal(vault_record_keyed(b->v, &by,
	                     &(struct vault_about){.outcome = "yoke/21fe31dfa154a261+181ad7d8+AddamAGCs"
	                                                      "Qq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea"}),
	    0);
	assert_non_null(strstr(vault_error(b->v), "is that of the trail yoke/21fe31dfa154a261"));
	help_assert_good(b, 3);
}

static int count_key(void *ctx, uint64_t seq, int64_t utc_us, const char *key)
{
	struct note_key k;

	assert_true(note_key_read(key, strlen(key), &k));
	assert_true(seq > 0 && utc_us > 0);
	++*(int *)ctx;
	return 0;
}

static int two_signatures(void *ctx, uint64_t number, const char *note)
{
	struct note taken;
	struct checkpoint c;
	int n = 0;

	assert_int_equal(note_take(note, strlen(note), &taken), strlen(note));
	assert_true(checkpoint_read(taken.text, taken.text_n, &c));
	for (const char *s = taken.signatures; (s = strstr(s, "\xe2\x80\x94 ")) != NULL; s++)
		n++;
	((int *)ctx)[number] = n;
	return 0;
}

static void a_new_key_is_signed_by_the_one_before(void **state)
{
	struct bench *b = *state;
	struct vault_verdict out;
	int keys = 0, signatures[9] = {0};

	help_key(b, 1, 0);
	lock(b, "one");
	help_key(b, 2, 1);
	lock(b, "two");
	assert_int_equal(help_seal(b, 1), -1);
	assert_int_equal(help_seal(b, 2), 1);
	out = verdict(b);
	assert_true(out.good);
	assert_int_equal(out.unsigned_key, 0);
	/* That one was lost: it is told, and the trail is good. */
	help_key(b, 3, 0);
	lock(b, "three");
	assert_int_equal(help_seal(b, 3), 1);
	out = verdict(b);
	assert_true(out.good);
	assert_int_equal(out.unsigned_key, 5);
	assert_non_null(strstr(out.text, "entry 5 changed the key without"));
	assert_int_equal(vault_keys(b->v, count_key, &keys), 0);
	assert_int_equal(keys, 3);
	assert_int_equal(vault_checkpoints(b->v, 0, 0, two_signatures, signatures), 0);
	assert_memory_equal(signatures, ((int[9]){0, 1, 2, 1, 1, 1}), sizeof(signatures));
	memset(signatures, 0, sizeof(signatures));
	assert_int_equal(vault_checkpoints(b->v, 2, 2, two_signatures, signatures), 0);
	assert_memory_equal(signatures, ((int[9]){0, 0, 0, 1, 1}), sizeof(signatures));
}

/* --- What somebody does to it --- */

static void a_changed_checkpoint_is_found(void **state)
{
	static const struct {
		const char *sql, *text;
	} row[] = {
	    {"UPDATE checkpoint SET size=2 WHERE n=2", "checkpoint 2 was changed"},
	    {"UPDATE checkpoint SET note=note||'x' WHERE n=2", "checkpoint 2 was changed"},
	    {"UPDATE checkpoint SET note='' WHERE n=2", "checkpoint 2 was changed"},
	    {"UPDATE checkpoint SET note=replace(note,'number 2','number 3') WHERE n=2",
	        "checkpoint 2 was changed"},
	    {"UPDATE checkpoint SET note=replace(note,'time 2','time 3') WHERE n=2",
	        "does not have the signature of the key"},
	    {"UPDATE checkpoint SET note=(SELECT note FROM checkpoint WHERE n=1) WHERE n=2",
	        "checkpoint 2 was changed"},
	    {"DELETE FROM checkpoint WHERE n=2", "checkpoint 2 is missing"},
	    {"DELETE FROM checkpoint WHERE n=1", "checkpoint 1 is missing"},
	    {"DELETE FROM checkpoint; UPDATE event SET seq=seq", "is missing"},
	    {"UPDATE node SET hashes=zeroblob(length(hashes)) WHERE seq=3",
	        "not what entry 3 makes of it"},
	    {"UPDATE node SET hashes=substr(hashes,1,32) WHERE seq=4", "not what entry 4 makes of it"},
	    {"DELETE FROM node WHERE seq=5", "not what entry 5 makes of it"},
	    {"INSERT INTO node SELECT seq+100,hashes FROM node WHERE seq=1", "more leaves"},
	    {"UPDATE seal_key SET key='x'", "seal_key 1"},
	    {"DELETE FROM seal_key", "seal_key 1"},
	};

	for (size_t i = 0; i < sizeof(row) / sizeof(row[0]); i++) {
		void *own;
		struct bench *b;
		struct vault_verdict out;
		char sql[1000];

		help_setup(&own);
		b = own;
		help_key(b, 1, 0);
		for (int k = 0; k < 6; k++) {
			lock(b, "x");
			if (k % 2)
				assert_int_equal(help_seal(b, 1), 1);
		}
		snprintf(sql, sizeof(sql), "DROP TRIGGER event_stays;" NO_GUARDS "%s;" GUARDS, row[i].sql);
		tamper(b, sql);
		out = verdict(b);
		if (out.good || !strstr(out.text, row[i].text))
			fail_msg("%s: %s", row[i].sql, out.text);
		help_teardown(&own);
	}
}

/* The day's vault is put back to where it was, with all that fits, but for the checkpoints after it. */
static void a_trail_that_was_cut_is_found(void **state)
{
	struct bench *b = *state;
	unsigned char *before;
	char *sql;
	size_t n;

	help_key(b, 1, 0);
	lock(b, "one");
	vault_close(b->v);
	before = help_read_file(b->path, &n);
	help_open(b);
	lock(b, "two");
	lock(b, "three");
	assert_int_equal(help_seal(b, 1), 1);
	vault_close(b->v);
	assert_true(asprintf(&sql, "VACUUM INTO '%s/aside'", b->dir) > 0);
	help_sql(b->path, sql);
	free(sql);
	help_write_file(b->path, before, n);
	free(before);
	assert_true(asprintf(&sql,
	                "ATTACH '%s/aside' AS aside;"
	                "INSERT INTO checkpoint SELECT * FROM aside.checkpoint WHERE n=2",
	                b->dir) > 0);
	help_sql(b->path, sql);
	free(sql);
	assert_true(asprintf(&sql, "%s/aside", b->dir) > 0);
	remove(sql);
	free(sql);
	help_open(b);
	assert_bad(b, 3, "entries 3 to 4 are missing at the end of the trail: checkpoint 2");
	/* And nothing is signed over it, until it is longer than that and does not fit either. */
	assert_int_equal(help_seal(b, 1), -1);
	assert_non_null(strstr(vault_error(b->v), "was cut short or put back"));
	lock(b, "other two");
	lock(b, "other three");
	lock(b, "other four");
	assert_int_equal(help_seal(b, 1), -1);
	assert_non_null(strstr(vault_error(b->v), "no longer what checkpoint 2 sealed"));
	assert_bad(b, 2, "entries 2 to 4 are not those that checkpoint 2");
}

/*
 * A whole trail is written anew by yoked's own code, with one name that is another: chain, tree and state
 * fit, and the checkpoints of the true one are put beside it.
 */
static void a_trail_that_was_rewritten_is_found(void **state)
{
	struct bench *b = *state;
	void *own;
	struct bench *other;
	struct ed25519 *k = help_private(1);
	struct note_key ours, theirs;
	char text[NOTE_KEY_MAX + 1], *sql;

	help_key(b, 1, 0);
	lock(b, "one");
	assert_int_equal(help_seal(b, 1), 1);
	for (int i = 0; i < 20; i++)
		lock(b, "x");
	assert_int_equal(help_seal(b, 1), 1);
	help_setup(&own);
	other = own;
	assert_int_equal(vault_key_text(other->v, k, text), 0);
	ed25519_free(k);
	assert_recorded(other, vault_record_keyed(other->v, &(struct vault_by){b->now_us, "service", "socket"},
	                           &(struct vault_about){.outcome = text}));
	for (int i = 0; i < 21; i++)
		lock(other, "somebody else");
	vault_close(b->v);
	vault_close(other->v);
	assert_true(asprintf(&sql, "ATTACH '%s' AS real; INSERT INTO checkpoint SELECT * FROM real.checkpoint",
	                b->path) > 0);
	help_sql(other->path, sql);
	free(sql);
	help_open(other);
	help_open(b);
	help_assert_good(b, 22);
	assert_bad(other, 1, "entries 1 to 1 are not those that checkpoint 1");
	assert_int_equal(help_seal(other, 1), -1);
	assert_non_null(strstr(vault_error(other->v), "no longer what checkpoint 3 sealed"));
	/* A forger who makes a key of his own as well has another trail, which says so by its name. */
	help_teardown(&own);
	help_setup(&own);
	other = own;
	help_key(other, 2, 0);
	help_assert_good(other, 1);
	assert_int_equal(vault_key(other->v, &theirs), 1);
	assert_int_equal(vault_key(b->v, &ours), 1);
	assert_string_not_equal(theirs.name, ours.name);
	help_teardown(&own);
}

/* A key that the trail names must have signed: else who adds an entry could name one. */
static void a_key_without_its_checkpoint_is_found(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "service");
	struct ed25519 *k = help_private(2);
	char text[NOTE_KEY_MAX + 1];

	help_key(b, 1, 0);
	lock(b, "one");
	assert_int_equal(vault_key_text(b->v, k, text), 0);
	ed25519_free(k);
	assert_recorded(b, vault_record_keyed(b->v, &by, &(struct vault_about){.outcome = text}));
	assert_bad(b, 3, "entry 3 names a new key, and the checkpoint that this key signed with it is missing");
	lock(b, "two");
	assert_int_equal(help_seal(b, 2), 1);
	assert_bad(b, 3, "entry 3 names a new key");
}

static void honest_mistakes_are_stopped(void **state)
{
	struct bench *b = *state;
	static const struct {
		const char *sql, *why;
	} row[] = {
	    {"UPDATE checkpoint SET size=9", "never changed"},
	    {"DELETE FROM checkpoint", "never removed"},
	    {"INSERT INTO checkpoint VALUES(7,100,'x')", "must follow"},
	    {"INSERT INTO checkpoint VALUES(2,1,'x')", "must follow"},
	    {"INSERT OR REPLACE INTO checkpoint VALUES(1,1,'x')", "must follow"},
	};
	sqlite3 *db;

	help_key(b, 1, 0);
	assert_int_equal(sqlite3_open(b->path, &db), SQLITE_OK);
	for (size_t i = 0; i < sizeof(row) / sizeof(row[0]); i++)
		help_assert_stopped(db, row[i].sql, row[i].why);
	sqlite3_close(db);
	help_assert_good(b, 1);
}

/* --- Proofs --- */

/* The RFC's definition (9162 2.1.1), over the leaves' bytes. */
static void mth(const struct text *d, uint64_t n, unsigned char out[32])
{
	unsigned char node[65] = {1};
	uint64_t k = 1;

	if (n == 1) {
		struct text t = {0};

		text_add(&t, "\0", 1);
		text_add(&t, d->s, d->n);
		SHA256((unsigned char *)t.s, t.n, out);
		text_free(&t);
		return;
	}
	while (k * 2 < n)
		k *= 2;
	mth(d, k, node + 1);
	mth(d + k, n - k, node + 33);
	SHA256(node, sizeof(node), out);
}

/* Entries that are listed must be these. */
struct row {
	const struct text *leaf; /* by number */
	uint64_t seq, last;
};

static int the_next_one(void *ctx, const void *leaf, size_t n)
{
	struct row *row = ctx;

	assert_true(++row->seq <= row->last);
	assert_int_equal(n, row->leaf[row->seq].n);
	assert_memory_equal(leaf, row->leaf[row->seq].s, n);
	return row->seq == row->last;
}

static void every_entry_is_proved(void **state)
{
	struct bench *b = *state;
	uint64_t last;
	struct note_key key;
	struct checkpoint c;
	struct text leaf[200] = {{0}}, out = {0};
	unsigned char root[32];

	last = help_day(b);
	assert_true(last < 200);
	assert_int_equal(help_seal(b, 1), 1);
	lock(b, "not sealed yet");
	assert_int_equal(vault_key(b->v, &key), 1);
	for (uint64_t seq = 1; seq <= last; seq++) {
		struct text file = {0};
		struct proof p;
		char why[200] = "";

		if (vault_prove(b->v, seq, &file) != 1)
			fail_msg("%s", vault_error(b->v));
		if (!proof_check(file.s, file.n, &key, 1, &p, why, sizeof(why)))
			fail_msg("entry %llu: %s", (unsigned long long)seq, why);
		assert_int_equal(p.leaf.seq, seq);
		assert_int_equal(p.checkpoint.size, last);
		/* The bytes are what the chain hashes: the next leaf begins with their SHA-256. */
		SHA256((unsigned char *)leaf[seq - 1].s, leaf[seq - 1].n, root);
		if (seq > 1)
			assert_memory_equal(p.leaf.before.b, root, 32);
		{
			size_t n = 32 + 13 + 24 + 9 * 4 + p.leaf.kind.n + p.leaf.who.n + p.leaf.from.n +
			           p.leaf.machine.n + p.leaf.job.n + p.leaf.revision.n + p.leaf.outcome.n +
			           p.leaf.text.n + p.leaf.detail.n + 4;

			for (uint32_t i = 0; i < p.leaf.parts; i++)
				n += 4 + strlen(p.leaf.part[i].channel) + 2 +
				     32 * (size_t)(p.leaf.part[i].has_before + p.leaf.part[i].has_after);
			text_add(&leaf[seq], p.bytes, n);
		}
		proof_free(&p);
		text_free(&file);
	}
	for (uint64_t from = 0; from < last; from++) {
		struct row row = {leaf, from, last};

		assert_int_equal(vault_leaves(b->v, from, the_next_one, &row), 1);
		assert_int_equal(row.seq, last);
	}
	assert_int_equal(vault_leaves(b->v, last + 1, the_next_one, NULL), 0);
	assert_int_equal(vault_leaves(b->v, UINT64_MAX, the_next_one, NULL), 0);
	mth(leaf + 1, last, root);
	assert_int_equal(vault_sealed(b->v, &c), 1);
	assert_memory_equal(c.root.b, root, 32);
	assert_int_equal(vault_prove(b->v, 0, &out), 0);
	assert_int_equal(vault_prove(b->v, last + 1, &out), 0);
	assert_int_equal(vault_prove(b->v, UINT64_MAX, &out), 0);
	assert_int_equal(out.n, 0);
	for (uint64_t seq = 1; seq <= last; seq++)
		text_free(&leaf[seq]);
	/* An entry that was changed is not proved. */
	tamper(b, "DROP TRIGGER event_stays; UPDATE event SET who='somebody else' WHERE seq=5;");
	assert_int_equal(vault_prove(b->v, 5, &out), -1);
	assert_non_null(strstr(vault_error(b->v), "not what the last checkpoint sealed"));
	assert_int_equal(vault_prove(b->v, 6, &out), 1);
	text_free(&out);
}

/* --- Earlier versions --- */

/* A vault of the version before trees were kept: its tree is made from the trail, and it can be sealed. */
static void a_trail_that_was_never_sealed_is_upgraded(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];

	help_loaded(b, "J4417", "C", part);
	tamper(b, "DROP TABLE node; DROP TABLE checkpoint; DROP TABLE copied; DROP TABLE seal_key;"
	          "PRAGMA user_version=6");
	help_assert_good(b, 0);
	help_key(b, 1, 0);
	help_assert_good(b, 0);
	/* And checkpoints outlive an upgrade: they are no fold of anything. */
	assert_int_equal(vault_set_copied(b->v, "file:/mnt/other", 1), 0);
	tamper(b, "PRAGMA user_version=6");
	assert_int_equal(vault_copied(b->v, "file:/mnt/other"), 1);
	assert_int_equal(vault_copied(b->v, "syslog:"), 0);
	help_assert_good(b, 0);
	assert_int_equal(verdict(b).checkpoints, 1);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(a_trail_is_sealed),
	    TEST(only_the_key_in_force_signs),
	    TEST(a_new_key_is_signed_by_the_one_before),
	    cmocka_unit_test(a_changed_checkpoint_is_found),
	    TEST(a_trail_that_was_cut_is_found),
	    TEST(a_trail_that_was_rewritten_is_found),
	    TEST(a_key_without_its_checkpoint_is_found),
	    TEST(honest_mistakes_are_stopped),
	    TEST(every_entry_is_proved),
	    TEST(a_trail_that_was_never_sealed_is_upgraded),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
