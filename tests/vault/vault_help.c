#include <dirent.h>
#include <fcntl.h>
#include <openssl/sha.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "vault_help.h"

void help_open(struct bench *b)
{
	char why[600];

	b->v = vault_open(b->path, why, sizeof(why));
	if (!b->v)
		fail_msg("%s", why);
}

void help_reopen(struct bench *b)
{
	vault_close(b->v);
	help_open(b);
}

int help_setup(void **state)
{
	struct bench *b = calloc(1, sizeof(*b));
	const char *tmp = getenv("TMPDIR");

	assert_non_null(b);
	snprintf(b->dir, sizeof(b->dir), "%s/yoke-vault-XXXXXX", tmp && *tmp ? tmp : P_tmpdir);
	assert_non_null(mkdtemp(b->dir));
	snprintf(b->path, sizeof(b->path), "%s/vault.db", b->dir);
	b->now_us = 1700000000000000;
	help_open(b);
	*state = b;
	return 0;
}

int help_teardown(void **state)
{
	struct bench *b = *state;
	static const char *const tail[] = {"", "-wal", "-shm", ".lock", "-journal", ".end"};
	char name[320];

	vault_close(b->v);
	for (size_t i = 0; i < sizeof(tail) / sizeof(tail[0]); i++) {
		snprintf(name, sizeof(name), "%s%s", b->path, tail[i]);
		unlink(name);
	}
	assert_int_equal(rmdir(b->dir), 0);
	free(b);
	return 0;
}

struct sha help_sha(const void *bytes, size_t n)
{
	struct sha sha;

	SHA256(bytes, n, sha.b);
	return sha;
}

struct sha help_keep(struct bench *b, const void *bytes, size_t n)
{
	struct sha sha = help_sha(bytes, n);
	struct vault_stage *s = vault_stage_new(b->v);

	assert_non_null(s);
	if (vault_stage_add(s, bytes, n) != 0 || vault_stage_keep(s, &sha) != 0)
		fail_msg("%s", vault_error(b->v));
	return sha;
}

struct vault_by help_by(struct bench *b, const char *who)
{
	b->now_us += 1000000;
	return (struct vault_by){b->now_us, who, "socket"};
}

struct event_part help_part(const char *channel, const char *after)
{
	struct event_part p = {0};

	snprintf(p.channel, sizeof(p.channel), "%s", channel);
	p.has_after = after != NULL;
	if (after)
		p.after = help_sha(after, strlen(after));
	return p;
}

void help_pair(struct bench *b, const char *word, struct event_part part[2])
{
	static const char *const channel[2] = {"upper", "lower"};
	char text[200];

	for (int i = 0; i < 2; i++) {
		snprintf(text, sizeof(text), "%s %s", word, channel[i]);
		help_keep(b, text, strlen(text));
		part[i] = help_part(channel[i], text);
	}
}

void help_released(
    struct bench *b, const char *job, const char *revision, struct event_part part[2])
{
	struct vault_by by;
	char word[140], path[2][300];
	struct vault_about a = {.machine = "lathe", .job = job, .revision = revision};

	snprintf(word, sizeof(word), "%s-%s", job, revision);
	help_pair(b, word, part);
	for (int i = 0; i < 2; i++) {
		snprintf(path[i], sizeof(path[i]), "lathe/%s.%s.nc", word, part[i].channel);
		by = help_by(b, i == 0 ? "owner anna (uid 1002)" : "owner ben (uid 1003)");
		a.text = path[i];
		a.outcome = "O4417";
		a.part = &part[i];
		a.parts = 1;
		assert_recorded(b, vault_record_arrived(b->v, &by, &a));
	}
	by = help_by(b, "service");
	a.text = "";
	a.outcome = "agree";
	a.part = part;
	a.parts = 2;
	a.detail = "{\"findings\":[]}";
	assert_recorded(b, vault_record_released(b->v, &by, &a));
}

uint64_t help_order(struct bench *b, const char *act, const char *job, const char *revision,
    const struct event_part part[2])
{
	struct vault_by by = help_by(b, "anna (uid 1002)");
	struct vault_about a = {.machine = "lathe",
	    .job = job,
	    .revision = revision,
	    .outcome = act,
	    .part = part,
	    .parts = part ? 2 : 0};
	uint64_t id = vault_record_queued(b->v, &by, &a);

	assert_recorded(b, id);
	by = help_by(b, "service");
	assert_recorded(b, vault_record_carrying(b->v, &by, &(struct vault_about){.order = id}));
	return id;
}

void help_loaded(struct bench *b, const char *job, const char *revision, struct event_part part[2])
{
	struct vault_by by;
	struct vault_about a = {.text = "both programs are there"};

	help_released(b, job, revision, part);
	a.order = help_order(b, "send", job, revision, part);
	by = help_by(b, "service");
	a.outcome = "write";
	assert_recorded(b, vault_record_step(b->v, &by, &a));
	a.outcome = "none";
	assert_recorded(b, vault_record_carried(b->v, &by, &a));
	assert_recorded(b, vault_record_read_back(b->v, &by, &a));
}

struct vault_machine help_machine(struct bench *b)
{
	struct vault_machine m;

	assert_int_equal(vault_machine(b->v, "lathe", &m), 1);
	return m;
}

struct vault_order help_find_order(struct bench *b, uint64_t id)
{
	struct vault_order o;

	assert_int_equal(vault_order(b->v, id, &o), 1);
	return o;
}

uint64_t help_day(struct bench *b)
{
	typedef uint64_t record(
	    struct vault *, const struct vault_by *, const struct vault_about *);
	static record *const machine[] = {vault_record_proven, vault_record_locked,
	    vault_record_unlocked, vault_record_offline, vault_record_online,
	    vault_record_abandoned, vault_record_online, vault_record_drift, vault_record_refused,
	    vault_record_turned_away};
	static record *const ends[] = {vault_record_cancelled, vault_record_kept,
	    vault_record_unknown, vault_record_split, vault_record_carried};
	struct event_part part[2];
	struct vault_about a = {.machine = "lathe", .text = "told", .outcome = "none"};
	struct vault_by by = help_by(b, "service");
	uint64_t last = vault_record_started(b->v, &by, "yoked 0", "{}");

	assert_recorded(b, last);
	assert_recorded(b, vault_record_configured(b->v, &by, "{}"));
	help_loaded(b, "1200", "A", part);
	for (size_t i = 0; i < sizeof(machine) / sizeof(machine[0]); i++) {
		by = help_by(b, "ben (uid 1003)");
		assert_recorded(b, machine[i](b->v, &by, &a));
	}
	help_released(b, "1200", "B", part);
	for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++) {
		a.order = help_order(b, "send", "1200", "B", part);
		by = help_by(b, "service");
		assert_recorded(b, vault_record_step(b->v, &by, &a));
		assert_recorded(b, ends[i](b->v, &by, &a));
	}
	a.order = help_order(b, "drip", "1200", "B", part);
	a.outcome = "feed";
	assert_recorded(b, vault_record_step(b->v, &by, &a));
	assert_recorded(b, vault_record_fed(b->v, &by, &a));
	a.order = help_order(b, "fetch", "1200", "B", part);
	a.part = part;
	a.parts = 2;
	assert_recorded(b, vault_record_fetched(b->v, &by, &a));
	a = (struct vault_about){.machine = "lathe",
	    .job = "1200",
	    .revision = "B",
	    .outcome = "said",
	    .part = part,
	    .parts = 2};
	assert_recorded(b, vault_record_exported(b->v, &by, &a));
	assert_recorded(b, vault_record_loaded(b->v, &by, &a));
	assert_recorded(b, vault_record_drift(b->v, &by, &(struct vault_about){.machine = "lathe"}));
	a.revision = "C";
	assert_recorded(b, vault_record_adopted(b->v, &by, &a));
	assert_recorded(b, vault_record_unproven(b->v, &by, &(struct vault_about){.machine = "lathe"}));
	a = (struct vault_about){
	    .machine = "lathe", .job = "1201", .outcome = "refuse", .text = "no mate"};
	assert_recorded(b, vault_record_held(b->v, &by, &a));
	a = (struct vault_about){.machine = "lathe", .job = "1200", .revision = "B", .outcome = "send"};
	a.order = vault_record_queued(b->v, &by, &a);
	assert_recorded(b, a.order);
	assert_recorded(b, vault_record_moved(b->v, &by, &a));
	assert_recorded(b, vault_record_cancelled(b->v, &by, &a));
	a = (struct vault_about){.machine = "lathe",
	    .job = "1200",
	    .revision = "B",
	    .outcome = VAULT_SECOND,
	    .text = "measured",
	    .part = part,
	    .parts = 2};
	assert_recorded(b, vault_record_accepted(b->v, &by, &a));
	assert_recorded(b, vault_record_withdrawn(b->v, &by, &a));
	a = (struct vault_about){.outcome = "done", .text = "told", .detail = "{}"};
	assert_recorded(b, vault_record_backed_up(b->v, &by, &a));
	assert_recorded(b, vault_record_from_backup(b->v, &by, &a));
	assert_recorded(b, vault_record_repaired(b->v, &by, &a));
	assert_recorded(b, vault_record_clock_stepped(b->v, &by, &a));
	assert_recorded(b, vault_record_room_low(b->v, &by, &a));
	assert_recorded(b, vault_record_room_again(b->v, &by, &a));
	assert_recorded(b, vault_record_sealing(b->v, &by, &(struct vault_about){.outcome = "failed"}));
	help_key(b, 1, 0);
	last = vault_record_stopped(b->v, &by);
	assert_recorded(b, last);
	return last;
}

struct ed25519 *help_private(int i)
{
	uint8_t seed[ED25519_PRIVATE];
	struct ed25519 *k;

	memset(seed, i, sizeof(seed));
	k = ed25519_of_seed(seed);
	assert_non_null(k);
	return k;
}

void help_key(struct bench *b, int i, int before)
{
	struct vault_by by = help_by(b, "service");
	struct ed25519 *k = help_private(i), *old = before ? help_private(before) : NULL;
	char text[NOTE_KEY_MAX + 1];
	struct vault_about a = {.outcome = text};

	assert_int_equal(vault_begin(b->v), 0);
	assert_int_equal(vault_key_text(b->v, k, text), 0);
	assert_recorded(b, vault_record_keyed(b->v, &by, &a));
	if (vault_seal(b->v, k, old, by.utc_us / 1000000) != 1)
		fail_msg("%s", vault_error(b->v));
	assert_int_equal(vault_commit(b->v), 0);
	ed25519_free(k);
	ed25519_free(old);
}

int help_seal(struct bench *b, int i)
{
	struct ed25519 *k = help_private(i);
	int r = vault_seal(b->v, k, NULL, b->now_us / 1000000);

	ed25519_free(k);
	return r;
}

void help_assert_good(struct bench *b, uint64_t events)
{
	struct vault_verdict out;

	if (vault_verify(b->v, true, &out) != 0)
		fail_msg("%s", vault_error(b->v));
	if (!out.good)
		fail_msg("entry %llu: %s", (unsigned long long)out.first_bad, out.text);
	if (events != 0)
		assert_int_equal(out.events, events);
}

unsigned char *help_read_file(const char *path, size_t *n)
{
	int fd = open(path, O_RDONLY | O_CLOEXEC);
	off_t size = fd < 0 ? -1 : lseek(fd, 0, SEEK_END);
	unsigned char *p;

	assert_true(size > 0);
	p = malloc((size_t)size);
	assert_non_null(p);
	assert_int_equal(pread(fd, p, (size_t)size, 0), size);
	close(fd);
	*n = (size_t)size;
	return p;
}

void help_write_file(const char *path, const unsigned char *bytes, size_t n)
{
	int fd = open(path, O_WRONLY | O_TRUNC | O_CLOEXEC);

	assert_true(fd >= 0);
	assert_int_equal(write(fd, bytes, n), n);
	close(fd);
}

void help_sql(const char *path, const char *sql)
{
	sqlite3 *db;
	char *why = NULL, note[320];

	snprintf(note, sizeof(note), "%s.end", path);
	unlink(note);
	assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
	if (sqlite3_exec(db, sql, NULL, NULL, &why) != SQLITE_OK)
		fail_msg("%s: %s", sql, why);
	assert_int_equal(sqlite3_close(db), SQLITE_OK);
}

int64_t help_number(sqlite3 *db, const char *sql)
{
	sqlite3_stmt *s;
	int64_t n;

	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &s, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(s), SQLITE_ROW);
	n = sqlite3_column_int64(s, 0);
	sqlite3_finalize(s);
	return n;
}

int help_wipe(void **state)
{
	struct bench *b = *state;
	struct dirent *e;
	DIR *d = opendir(b->dir);
	char name[600];

	vault_close(b->v);
	assert_non_null(d);
	while ((e = readdir(d))) {
		snprintf(name, sizeof(name), "%s/%s", b->dir, e->d_name);
		if (*e->d_name != '.')
			assert_int_equal(unlink(name), 0);
	}
	closedir(d);
	assert_int_equal(rmdir(b->dir), 0);
	free(b);
	return 0;
}

void help_assert_stopped(sqlite3 *db, const char *sql, const char *want)
{
	char *why = NULL;

	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, &why), SQLITE_CONSTRAINT);
	if (!strstr(why, want))
		fail_msg("%s: %s", sql, why);
	sqlite3_free(why);
}
