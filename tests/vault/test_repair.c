/*
 * Goal: whatever bit of a vault or of its log is another one, it is found and named, or nothing of the content
 * is different; and a repair saves what fits its hashes, says exactly what it could not save, and leaves the
 * damaged files as they were. YOKE_FLIPS: how many bits are tried (120 without), from a seed that is printed.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "rescue.h"
#include "vault_help.h"
#include "yoke/text.h"

static const char *const tail[] = {"", "-wal", ".end"};

/* The three files of a vault, as a kill would leave them. */
struct files {
	unsigned char *bytes[3];
	size_t n[3];
};

static void take(struct files *f, const char *path)
{
	char name[RESCUE_PATH + 8];
	struct stat st;

	for (int i = 0; i < 3; i++) {
		snprintf(name, sizeof(name), "%s%s", path, tail[i]);
		/* An empty log is none. */
		f->bytes[i] =
		    stat(name, &st) == 0 && st.st_size > 0 ? help_read_file(name, &f->n[i]) : NULL;
	}
}

static void put(const struct files *f, const char *path)
{
	char name[RESCUE_PATH + 8];

	snprintf(name, sizeof(name), "%s-shm", path);
	unlink(name);
	for (int i = 0; i < 3; i++) {
		int fd;

		snprintf(name, sizeof(name), "%s%s", path, tail[i]);
		unlink(name);
		if (!f->bytes[i])
			continue;
		fd = open(name, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
		assert_true(fd >= 0 && write(fd, f->bytes[i], f->n[i]) == (ssize_t)f->n[i]);
		close(fd);
	}
}

static void release(struct files *f)
{
	for (int i = 0; i < 3; i++)
		free(f->bytes[i]);
}

/* Everything that the tables hold, by SQL of our own. */
static char *dump(struct vault *v)
{
	static const char *const sql[] = {
	    ("SELECT seq||utc_us||quote(kind)||quote(who)||quote(origin)||quote(machine)||quote(job)||"
	     "quote(revision)||quote(outcome)||hex(hash)||hex(parts)||quote(text)||quote(detail)||ord FROM "
	     "event ORDER BY seq"),
	    "SELECT hex(sha)||size FROM program ORDER BY sha",
	    "SELECT hex(sha)||n||hex(bytes) FROM piece JOIN program ON program.id=program ORDER BY sha,n",
	    "SELECT quote(area)||quote(job)||quote(revision)||state||hex(parts)||seq FROM pair ORDER BY 1",
	    "SELECT quote(name)||content||quote(job)||hex(parts)||hex(good)||unsure FROM machine ORDER BY 1",
	    "SELECT id||state||quote(act)||hex(parts) FROM orders ORDER BY id",
	    "SELECT n||quote(note) FROM checkpoint ORDER BY n"};
	struct text t = {0};

	for (size_t i = 0; i < sizeof(sql) / sizeof(sql[0]); i++) {
		sqlite3_stmt *s;

		assert_int_equal(sqlite3_prepare_v2(v->db, sql[i], -1, &s, NULL), SQLITE_OK);
		while (sqlite3_step(s) == SQLITE_ROW) {
			text_puts(&t, (const char *)sqlite3_column_text(s, 0));
			text_putc(&t, '\n');
		}
		sqlite3_finalize(s);
	}
	return text_take(&t);
}

/* Two days, the first of which is in the file and the second in the log; programs of several pages. */
static uint64_t fill(struct bench *b)
{
	static char large[1100000];
	struct event_part part[2];
	uint64_t n;

	help_day(b);
	for (size_t i = 0; i < sizeof(large); i++)
		large[i] = (char)(i * i % 251);
	help_keep(b, large, sizeof(large));
	help_reopen(b);
	for (int i = 0; i < 8; i++)
		help_loaded(b, "1300", (char[]){(char)('A' + i), 0}, part);
	help_keep(b, large + 1, 20000);
	assert_int_equal(help_seal(b, 1), 1);
	help_loaded(b, "1400", "A", part);
	n = (uint64_t)help_number(b->v->db, "SELECT max(seq) FROM event");
	help_assert_good(b, n);
	return n;
}

static void told(void *ctx, const char *line)
{
	text_printf(ctx, "%s\n", line);
}

static struct rescue_repair repair(struct bench *b, const char *path, struct text *lost)
{
	struct vault_by by = help_by(b, "anna");
	struct rescue_repair out;
	char why[1100] = "", aside[RESCUE_PATH];
	struct files before, after;

	take(&before, path);
	text_free(lost);
	if (rescue_repair(path, &by, &out, told, lost, aside, why, sizeof(why)) != 0)
		fail_msg("%s", why);
	take(&after, aside);
	for (int i = 0; i < 3; i++) {
		assert_int_equal(before.bytes[i] != NULL, after.bytes[i] != NULL);
		assert_true(!before.bytes[i] || (before.n[i] == after.n[i] &&
		                                    memcmp(before.bytes[i], after.bytes[i], after.n[i]) == 0));
		char name[RESCUE_PATH + 8];

		snprintf(name, sizeof(name), "%s%s", aside, tail[i]);
		assert_true(unlink(name) == 0 || errno == ENOENT);
	}
	release(&before);
	release(&after);
	return out;
}

static void assert_repaired(struct bench *b, const char *path, const struct rescue_repair *o,
    uint64_t n, const struct text *lost)
{
	struct vault_verdict out;
	char why[1100];
	struct vault *v = vault_open(path, why, sizeof(why));

	if (!v)
		fail_msg("%s", why);
	if (vault_verify(v, true, &out) != 0)
		fail_msg("%s", vault_error(v));
	if (!out.good)
		fail_msg("the repaired vault: %s (%s)", out.text, lost->s ? lost->s : "");
	assert_true(o->good);
	if (o->events < n && (o->lost_from != o->events + 1 || o->lost_to < n))
		fail_msg("%llu of %llu entries were saved, and lost is said to be %llu to %llu",
		    (unsigned long long)o->events, (unsigned long long)n,
		    (unsigned long long)o->lost_from, (unsigned long long)o->lost_to);
	assert_true(o->events <= n);
	vault_close(v);
}

/* What is no vault is left alone, and so is what nobody finds anything in. */
static void what_is_no_vault_is_left_alone(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "anna");
	char why[1100], aside[RESCUE_PATH], path[400];
	struct rescue_repair o;
	struct text lost = {0};
	unsigned char noise[20000], *after;
	size_t n;
	int fd;

	snprintf(path, sizeof(path), "%s/none", b->dir);
	assert_int_equal(rescue_repair(path, &by, &o, told, &lost, aside, why, sizeof(why)), -1);
	assert_non_null(strstr(why, "No such file"));
	assert_int_equal(
	    rescue_repair(b->path, &by, &o, told, &lost, aside, why, sizeof(why)), -1);
	assert_non_null(strstr(why, "another yoked"));
	srand(7);
	for (size_t i = 0; i < sizeof(noise); i++)
		noise[i] = (unsigned char)rand();
	fd = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	assert_true(fd >= 0 && write(fd, noise, sizeof(noise)) == sizeof(noise));
	close(fd);
	assert_int_equal(rescue_repair(path, &by, &o, told, &lost, aside, why, sizeof(why)), -1);
	assert_non_null(strstr(why, "nothing of a vault"));
	after = help_read_file(path, &n);
	assert_true(n == sizeof(noise) && memcmp(after, noise, n) == 0);
	free(after);
	snprintf(path, sizeof(path), "%s/none.new", b->dir);
	assert_int_equal(access(path, F_OK), -1);
	text_free(&lost);
}

static void a_whole_vault_loses_nothing(void **state)
{
	struct bench *b = *state;
	uint64_t n = fill(b);
	int64_t programs = help_number(b->v->db, "SELECT count(*) FROM program");
	char *before = dump(b->v), *after, *end;
	struct text lost = {0};
	struct rescue_repair o;

	vault_close(b->v);
	o = repair(b, b->path, &lost);
	assert_repaired(b, b->path, &o, n, &lost);
	assert_null(lost.s);
	assert_true(o.good && o.events == n && (int64_t)o.programs == programs && o.checkpoints == 2 &&
	            !o.lost_programs && !o.lost_to && !o.lost_checkpoints);
	help_open(b);
	after = dump(b->v);
	/* One entry more, and nothing else: cut it out of the later text. */
	end = strstr(after, "saved: ");
	assert_non_null(end);
	assert_int_equal(help_number(b->v->db, "SELECT max(seq) FROM event"), n + 1);
	while (end > after && end[-1] != '\n')
		end--;
	assert_memory_equal(before, after, (size_t)(end - after));
	assert_string_equal(before + (end - after), strchr(end, '\n') + 1);
	free(before);
	free(after);
}

static void indexes_and_guards_come_back(void **state)
{
	struct bench *b = *state;
	uint64_t n = fill(b);
	struct vault_verdict out;
	struct text lost = {0};
	struct rescue_repair o;

	vault_close(b->v);
	help_sql(b->path, "DROP INDEX event_job; DROP INDEX orders_open; DROP TRIGGER event_stays; DELETE FROM machine;"
	                  "DROP TABLE copied; DELETE FROM node WHERE seq=3;");
	b->v = vault_open(b->path, (char[600]){0}, 600);
	assert_true(!b->v || (vault_verify(b->v, true, &out) == 0 && !out.good));
	vault_close(b->v);
	o = repair(b, b->path, &lost);
	assert_repaired(b, b->path, &o, n, &lost);
	assert_true(o.good && o.events == n && !lost.s);
	help_open(b);
}

static void assert_cut(struct bench *b, const struct files *f, uint64_t n, uint64_t least)
{
	struct text lost = {0};
	struct rescue_repair o;
	struct vault_machine m;
	char want[80];

	put(f, b->path);
	o = repair(b, b->path, &lost);
	assert_repaired(b, b->path, &o, n, &lost);
	assert_true(o.events >= least && o.events < n);
	snprintf(want, sizeof(want), "entries %llu to %llu", (unsigned long long)o.events + 1,
	    (unsigned long long)n);
	if (!lost.s || !strstr(lost.s, want))
		fail_msg("'%s' does not say '%s'", lost.s ? lost.s : "", want);
	/* What happened last nobody knows. */
	help_open(b);
	m = help_machine(b);
	assert_int_equal(m.content, VAULT_UNKNOWN);
	vault_close(b->v);
	b->v = NULL;
	text_free(&lost);
}

static void a_log_that_is_cut_or_gone(void **state)
{
	struct bench *b = *state;
	struct files f, cut;
	uint64_t n, day;

	n = fill(b);
	day = n - 9 * 8;
	take(&f, b->path);
	assert_true(f.n[1] > 100000);
	vault_close(b->v);
	cut = f;
	cut.n[1] = f.n[1] / 2;
	assert_cut(b, &cut, n, 20);
	cut.n[1] = f.n[1] - 5000;
	assert_cut(b, &cut, n, day);
	cut.bytes[1] = NULL;
	assert_cut(b, &cut, n, 20);
	release(&f);
	b->v = NULL;
}

/*
 * What was rolled back lies in the log too, longer than what was recorded in its place, and follows the trail by
 * its hashes: it must not come back.
 */
static void what_was_rolled_back_stays_so(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "never");
	struct text lost = {0};
	struct rescue_repair o;
	struct files f;
	uint64_t n;
	bool in_log;

	n = fill(b);
	assert_int_equal(sqlite3_exec(b->v->db, "PRAGMA cache_size=10", NULL, NULL, NULL), 0);
	assert_int_equal(vault_begin(b->v), 0);
	for (int i = 0; i < 400; i++)
		assert_recorded(b, vault_record_stopped(b->v, &by));
	vault_rollback(b->v);
	by = help_by(b, "real");
	for (int i = 0; i < 3; i++)
		assert_recorded(b, vault_record_stopped(b->v, &by));
	n += 3;
	take(&f, b->path);
	in_log = memmem(f.bytes[1], f.n[1], "never", 5) != NULL;
	assert_true(in_log);
	vault_close(b->v);
	for (int note = 1; note >= 0; note--) {
		struct files left = f;

		if (!note)
			left.bytes[2] = NULL;
		put(&left, b->path);
		o = repair(b, b->path, &lost);
		assert_repaired(b, b->path, &o, n, &lost);
		if (note)
			assert_int_equal(o.events, n);
		help_open(b);
		if (note)
			assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM event WHERE who='never'"), 0);
		assert_int_equal(help_number(b->v->db, "SELECT count(*) FROM event WHERE who='real'"), 3);
		vault_close(b->v);
	}
	b->v = NULL;
	text_free(&lost);
	release(&f);
}

struct count {
	unsigned refused, unreadable, bad, harmless, whole, fewer, programs;
};

/* One flip: found, or nothing is different. Then the repair. */
static void try_one(struct bench *b, const char *path, uint64_t n, const char *content,
    const char *what, struct count *c)
{
	struct vault_verdict out;
	char why[1100] = "";
	struct vault *v = vault_open(path, why, sizeof(why));
	struct text lost = {0};
	struct rescue_repair o;

	if (!v) {
		c->refused++;
		assert_true(*why != 0);
	} else if (vault_verify(v, true, &out) != 0) {
		c->unreadable++;
	} else if (!out.good) {
		c->bad++;
		assert_true(*out.text != 0);
	} else {
		char *now = dump(v);

		if (out.events != n || strcmp(now, content) != 0)
			fail_msg("%s: the content is another one, and nobody noticed", what);
		free(now);
		c->harmless++;
	}
	vault_close(v);
	/* Once with what the look has left, as it happens in a shop: a start that refuses, then a repair. */
	o = repair(b, path, &lost);
	assert_repaired(b, path, &o, n, &lost);
	c->whole += o.events == n && o.lost_programs == 0;
	c->fewer += o.events < n;
	c->programs += o.lost_programs > 0;
	text_free(&lost);
}

static void every_flipped_bit_is_found_or_harmless(void **state)
{
	struct bench *b = *state;
	const char *many = getenv("YOKE_FLIPS"), *from = getenv("YOKE_SEED");
	unsigned flips = many ? (unsigned)atoi(many) : 120;
	unsigned seed = from ? (unsigned)atoi(from) : (unsigned)time(NULL);
	struct count c = {0};
	char *content, path[400];
	struct files f;
	uint64_t n;

	n = fill(b);
	content = dump(b->v);
	take(&f, b->path);
	snprintf(path, sizeof(path), "%s/flipped", b->dir);
	print_message("seed %u\n", seed);
	srand(seed);
	for (unsigned i = 0; i < flips; i++) {
		/* As often in the log as in the file; what they are padded with is less interesting. */
		int file = i % 2;
		size_t at = (size_t)rand() % f.n[file];
		unsigned char bit = (unsigned char)(1 << rand() % 8);
		char what[80];

		snprintf(what, sizeof(what), "bit %02x of byte %zu of vault%s", bit, at, tail[file]);
		f.bytes[file][at] ^= bit;
		put(&f, path);
		try_one(b, path, n, content, what, &c);
		f.bytes[file][at] ^= bit;
	}
	print_message("%u bits flipped: %u refused at the start, %u unreadable, %u found by verify, %u "
	              "harmless; repair: %u whole, %u with fewer entries, %u with fewer programs\n",
	    flips, c.refused, c.unreadable, c.bad, c.harmless, c.whole, c.fewer, c.programs);
	assert_true(flips < 100 || c.refused + c.bad + c.unreadable > flips / 4);
	/* Of a log with one bit wrong nearly everything is saved: its later frames are there. A start that refused
	 * used to take them away: SQLite keeps the beginning of such a log and removes the file when it closes. */
	assert_true(flips < 100 || c.fewer < flips / 4);
	free(content);
	release(&f);
}

/* A page full of noise, each in turn: what leads to other pages does not take them with it. */
static void a_page_of_noise_takes_little_with_it(void **state)
{
	struct bench *b = *state;
	unsigned char page[4096];
	struct count c = {0};
	char *content, path[400];
	struct files f;
	uint64_t n = fill(b);
	unsigned pages = 0;

	content = dump(b->v);
	vault_close(b->v);
	take(&f, b->path);
	snprintf(path, sizeof(path), "%s/noise", b->dir);
	for (size_t at = 0; at + 4096 <= f.n[0]; at += at < 40 * 4096 ? 4096 : 15 * 4096) {
		memcpy(page, f.bytes[0] + at, 4096);
		memset(f.bytes[0] + at, 0x5a, 4096);
		put(&f, path);
		try_one(b, path, n, content, "a page", &c);
		memcpy(f.bytes[0] + at, page, 4096);
		pages++;
	}
	print_message("%u pages made noise: %u refused at the start, %u unreadable, %u found by verify, %u "
	              "harmless; repair: %u whole, %u with fewer entries, %u with fewer programs\n",
	    pages, c.refused, c.unreadable, c.bad, c.harmless, c.whole, c.fewer, c.programs);
	assert_true(c.whole > 0 && c.fewer > 0 && c.programs > 0);
	free(content);
	release(&f);
	help_open(b);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_wipe)
	const struct CMUnitTest tests[] = {
	    TEST(what_is_no_vault_is_left_alone),
	    TEST(a_whole_vault_loses_nothing),
	    TEST(indexes_and_guards_come_back),
	    TEST(a_log_that_is_cut_or_gone),
	    TEST(what_was_rolled_back_stays_so),
	    TEST(every_flipped_bit_is_found_or_harmless),
	    TEST(a_page_of_noise_takes_little_with_it),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
