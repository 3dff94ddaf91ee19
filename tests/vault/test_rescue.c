/*
 * Goal: a back-up that is made while the vault is being written is one state of it, whole, in one file that
 * nobody else may read; what is brought back from it has the same head and goes on as a trail that says where
 * it comes from; nothing that is in the way is overwritten or lost; and a vault whose log was cut or removed,
 * or that was put back, is not served as if nothing were missing.
 */
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>
#include "rescue.h"
#include "vault_help.h"

static atomic_bool go_on;

static const char *in(struct bench *b, const char *name)
{
	static char path[4][400];
	static unsigned i;

	i = (i + 1) % 4;
	snprintf(path[i], sizeof(path[i]), "%s/%s", b->dir, name);
	return path[i];
}

/* Bytes as a file, new or not. */
static void put_file(const char *path, const unsigned char *bytes, size_t n)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);

	assert_true(fd >= 0 && write(fd, bytes, n) == (ssize_t)n);
	close(fd);
}

static struct rescue_content back_up(struct bench *b, const char *to)
{
	struct rescue_content c;
	char why[1100];

	if (rescue_backup(b->path, to, &go_on, &c, why, sizeof(why)) != 0)
		fail_msg("%s", why);
	return c;
}

static void assert_refused(struct bench *b, const char *to, const char *want)
{
	struct rescue_content c;
	char why[1100] = "";

	assert_int_equal(rescue_backup(b->path, to, &go_on, &c, why, sizeof(why)), -1);
	if (!strstr(why, want))
		fail_msg("'%s' does not say '%s'", why, want);
}

struct writer {
	struct bench *b;
	atomic_bool end;
	uint64_t last;
};

/* The service's side: it never waits for the back-up. */
static void *write_on(void *ctx)
{
	struct writer *w = ctx;
	struct vault_by by = {1700000500000000, "anna", "socket"};

	while (!atomic_load(&w->end)) {
		static char bytes[1500000];
		struct vault_stage *s = vault_stage_new(w->b->v);
		struct sha sha;

		snprintf(bytes, sizeof(bytes), "%llu", (unsigned long long)w->last);
		sha = help_sha(bytes, sizeof(bytes));
		if (!s || vault_stage_add(s, bytes, sizeof(bytes)) != 0 ||
		    vault_stage_keep(s, &sha) != 0)
			abort();
		for (int i = 0; i < 20; i++)
			w->last = vault_record_stopped(w->b->v, &by);
		if (w->last == 0)
			abort();
	}
	return NULL;
}

static void a_backup_under_writing_is_one_state(void **state)
{
	struct bench *b = *state;
	struct writer w = {.b = b};
	uint64_t before = help_day(b);
	pthread_t thread;

	assert_int_equal(pthread_create(&thread, NULL, write_on, &w), 0);
	for (int i = 0; i < 5; i++) {
		struct vault_verdict out;
		struct rescue_content c;
		char name[32], why[1100];
		struct stat st;

		snprintf(name, sizeof(name), "copy%d", i);
		c = back_up(b, in(b, name));
		assert_true(c.events >= before);
		before = c.events;
		assert_int_equal(stat(in(b, name), &st), 0);
		assert_int_equal(st.st_mode & 0777, 0600);
		assert_int_equal(st.st_size, c.bytes);
		/* Read-only media take it: it is whole without a log. */
		assert_int_equal(access(in(b, "copy0-wal"), F_OK), -1);
		assert_int_equal(vault_verify_file(in(b, name), true, &out, why, sizeof(why)), 0);
		assert_true(out.good && out.events == c.events);
		assert_memory_equal(&out.head, &c.head, sizeof(c.head));
	}
	atomic_store(&w.end, true);
	pthread_join(thread, NULL);
	print_message("%llu entries at the last back-up, %llu at the end\n",
	    (unsigned long long)before, (unsigned long long)w.last);
	assert_true(w.last > before);
	help_assert_good(b, w.last);
}

static void what_is_in_the_way_stays(void **state)
{
	struct bench *b = *state;
	struct rescue_content c;
	unsigned char *bytes;
	size_t n;
	int fd;

	help_day(b);
	put_file(in(b, "copy"), (const unsigned char *)"mine", 4);
	assert_refused(b, in(b, "copy"), "there already");
	bytes = help_read_file(in(b, "copy"), &n);
	assert_true(n == 4 && memcmp(bytes, "mine", 4) == 0);
	free(bytes);
	assert_refused(b, in(b, "nowhere/copy"), "cannot be made");
	assert_int_equal(symlink(b->path, in(b, "other.part")), 0);
	assert_refused(b, in(b, "other"), "cannot be made");
	assert_int_equal(unlink(in(b, "other.part")), 0);
	assert_int_equal(link(b->path, in(b, "other.part")), 0);
	assert_refused(b, in(b, "other"), "no left-over");

	/* One that was cut short is begun anew; one that is being written is not touched. */
	bytes = malloc(300000);
	assert_non_null(bytes);
	memset(bytes, 7, 300000);
	put_file(in(b, "next.part"), bytes, 300000);
	put_file(in(b, "next.part-journal"), bytes, 3000);
	fd = open(in(b, "next.part"), O_RDWR | O_CLOEXEC);
	assert_int_equal(flock(fd, LOCK_EX), 0);
	assert_refused(b, in(b, "next"), "just now");
	close(fd);
	c = back_up(b, in(b, "next"));
	assert_true(c.events > 20 && c.programs > 3);
	assert_int_equal(access(in(b, "next.part"), F_OK), -1);
	free(bytes);

	atomic_store(&go_on, true);
	assert_refused(b, in(b, "stopped"), "ended");
	atomic_store(&go_on, false);
	assert_int_equal(access(in(b, "stopped.part"), F_OK), -1);
}

static void a_damaged_vault_makes_no_backup(void **state)
{
	struct bench *b = *state;

	help_day(b);
	vault_close(b->v);
	help_sql(b->path, "DROP TRIGGER piece_stays; UPDATE piece SET bytes=x'00' WHERE program=2;");
	help_open(b);
	assert_refused(b, in(b, "copy"), "does not verify");
	assert_int_equal(access(in(b, "copy"), F_OK), -1);
	assert_int_equal(access(in(b, "copy.part"), F_OK), -1);
}

static int newest(void *ctx, const struct event *e, const struct sha *hash)
{
	text_printf(ctx, "%s %s|%s\n", event_name(e->kind), e->machine, e->outcome);
	return 0;
}

static void assert_not_brought(struct bench *b, const char *file, bool aside, const char *want)
{
	struct vault_by by = help_by(b, "anna");
	struct rescue_content c;
	char why[1100] = "", where[RESCUE_PATH];

	assert_int_equal(
	    rescue_bring(file, b->path, aside, &by, &c, where, why, sizeof(why)), -1);
	if (!strstr(why, want))
		fail_msg("'%s' does not say '%s'", why, want);
}

/* What waited is not carried from a back-up, and nobody says what a machine holds: both may be days old. */
static void a_backup_is_brought_back(void **state)
{
	struct bench *b = *state;
	struct vault_about a = {.machine = "lathe", .job = "1200", .revision = "A", .outcome = "send"};
	struct vault_filter all = {.oldest_first = true};
	struct text told = {0};
	struct rescue_content c, back;
	struct event_part part[2];
	struct vault_by by;
	struct vault_machine m;
	char why[1100], aside[RESCUE_PATH], again[RESCUE_PATH], empty[400];
	uint64_t waits, carrying;

	help_loaded(b, "1200", "A", part);
	by = help_by(b, "ben");
	assert_recorded(b, vault_record_proven(b->v, &by, &(struct vault_about){.machine = "lathe"}));
	carrying = help_order(b, "send", "1200", "A", part);
	a.part = part;
	a.parts = 2;
	waits = vault_record_queued(b->v, &by, &a);
	assert_recorded(b, waits);
	c = back_up(b, in(b, "copy"));
	assert_int_equal(c.programs, 2);
	assert_recorded(b, vault_record_stopped(b->v, &by));

	assert_not_brought(b, in(b, "copy"), true, "another yoked");
	vault_close(b->v);
	assert_not_brought(b, in(b, "copy"), false, "--set-aside");
	assert_not_brought(b, in(b, "nothing"), true, "No such file");
	assert_not_brought(b, b->dir, true, "no regular file");
	put_file(in(b, "empty"), (const unsigned char *)"", 0);
	assert_not_brought(b, in(b, "empty"), true, "no entry");
	help_open(b); /* nothing of that has changed it */
	help_assert_good(b, c.events + 1);
	vault_close(b->v);

	if (rescue_bring(in(b, "copy"), b->path, true, &by, &back, aside, why, sizeof(why)) != 0)
		fail_msg("%s", why);
	assert_int_equal(back.events, c.events);
	assert_memory_equal(&back.head, &c.head, sizeof(c.head));
	help_open(b);
	help_assert_good(b, c.events + 3);
	all.after_seq = c.events;
	assert_int_equal(vault_events(b->v, &all, newest, &told), 0);
	assert_string_equal(told.s, "from-backup |backup\nunknown lathe|backup\ncancelled lathe|backup\n");
	text_free(&told);
	assert_int_equal(help_find_order(b, waits).state, VAULT_CANCELLED);
	assert_int_equal(help_find_order(b, carrying).state, VAULT_FAILED);
	m = help_machine(b);
	assert_int_equal(m.content, VAULT_UNKNOWN);
	assert_true(m.has_good);
	/* The other one is whole where it was put. */
	snprintf(empty, sizeof(empty), "%s", b->path);
	vault_close(b->v);
	snprintf(b->path, sizeof(b->path), "%.299s", aside);
	help_open(b);
	help_assert_good(b, c.events + 1);
	snprintf(b->path, sizeof(b->path), "%.299s", empty);

	/* Once more within the same second, where the first name is taken: it was refused. */
	if (rescue_bring(in(b, "copy"), b->path, true, &by, &back, again, why, sizeof(why)) != 0)
		fail_msg("%s", why);
	assert_string_not_equal(again, aside);
	assert_int_equal(access(aside, F_OK), 0);
	assert_int_equal(access(again, F_OK), 0);

	/* On an empty machine nothing is moved. */
	snprintf(empty, sizeof(empty), "%s/elsewhere", b->dir);
	if (rescue_bring(in(b, "copy"), empty, false, &by, &back, aside, why, sizeof(why)) != 0)
		fail_msg("%s", why);
	assert_string_equal(aside, "");
}

/* Copies of the three files as a power cut would leave them. */
static void keep(struct bench *b, const char *to, bool log)
{
	static const char *const tail[] = {"", ".end", "-wal"};
	char from[400], name[400];

	for (int i = 0; i < 2 + log; i++) {
		unsigned char *bytes;
		size_t n;

		snprintf(from, sizeof(from), "%s%s", b->path, tail[i]);
		snprintf(name, sizeof(name), "%s%s", in(b, to), tail[i]);
		bytes = help_read_file(from, &n);
		put_file(name, bytes, n);
		free(bytes);
	}
}

static void assert_opens(struct bench *b, const char *name, const char *want)
{
	char why[1100] = "";
	struct vault_verdict out;
	struct vault *v = vault_open(in(b, name), why, sizeof(why));

	if (!want && !v)
		fail_msg("%s: %s", name, why);
	if (want && (v || !strstr(why, want)))
		fail_msg("%s: '%s' does not say '%s'", name, v ? "opened" : why, want);
	vault_close(v);
	if (!want)
		return;
	/* verify finds the same, when the file can be read. */
	assert_int_equal(vault_verify_file(in(b, name), true, &out, why, sizeof(why)), 0);
	assert_false(out.good);
	if (!strstr(out.text, want))
		fail_msg("verify of %s: '%s' does not say '%s'", name, out.text, want);
}

/*
 * A vault without its log is whole in itself, and shorter: in the state of the last time when the log was
 * written back. Nothing in it can show that: the note beside it does.
 */
static void a_log_that_is_gone_is_found(void **state)
{
	struct bench *b = *state;
	struct event_part part[2];
	unsigned char *bytes;
	char name[400];
	size_t n;

	help_day(b);
	help_reopen(b);
	for (int i = 0; i < 5; i++)
		help_loaded(b, "1300", (char[]){(char)('A' + i), 0}, part);
	keep(b, "whole", true);
	keep(b, "deleted", false);
	keep(b, "cut", true);
	keep(b, "tail", true);
	keep(b, "noted", false);
	snprintf(name, sizeof(name), "%s-wal", in(b, "cut"));
	bytes = help_read_file(name, &n);
	assert_int_equal(truncate(name, (off_t)n / 2), 0);
	free(bytes);
	snprintf(name, sizeof(name), "%s-wal", in(b, "tail"));
	assert_int_equal(truncate(name, (off_t)n - 4096), 0);
	/* The note itself is damaged: it tells nothing. */
	snprintf(name, sizeof(name), "%s.end", in(b, "noted"));
	bytes = help_read_file(name, &n);
	assert_int_equal(n, 94);
	bytes[30] ^= 1;
	put_file(name, bytes, n);
	free(bytes);

	assert_opens(b, "whole", NULL);
	assert_opens(b, "deleted", "were recorded and are missing");
	assert_opens(b, "cut", "were recorded and are missing");
	assert_opens(b, "tail", "were recorded and are missing");
	assert_opens(b, "noted", NULL);
}

static void a_vault_that_was_put_back_is_found(void **state)
{
	struct bench *b = *state;
	struct vault_by by = help_by(b, "ben");
	unsigned char *older;
	char why[1100] = "";
	size_t n;

	help_day(b);
	vault_close(b->v);
	older = help_read_file(b->path, &n);
	help_open(b);
	assert_recorded(b, vault_record_stopped(b->v, &by));
	vault_close(b->v);
	put_file(b->path, older, n);
	b->v = vault_open(b->path, why, sizeof(why));
	assert_null(b->v);
	assert_non_null(strstr(why, "older copy"));
	/* Another one of the same length. */
	keep(b, "twin", false);
	assert_int_equal(unlink(in(b, "twin.end")), 0);
	snprintf(why, sizeof(why), "%s", b->path);
	snprintf(b->path, sizeof(b->path), "%.299s", in(b, "twin"));
	help_open(b);
	by.who = "somebody else";
	assert_recorded(b, vault_record_stopped(b->v, &by));
	vault_close(b->v);
	snprintf(b->path, sizeof(b->path), "%.299s", why);
	free(older);
	older = help_read_file(in(b, "twin"), &n);
	put_file(b->path, older, n);
	free(older);
	b->v = vault_open(b->path, why, sizeof(why));
	assert_null(b->v);
	assert_non_null(strstr(why, "is not the one that was recorded"));
	/* And no file at all is not the beginning of a new trail. */
	assert_int_equal(unlink(b->path), 0);
	b->v = vault_open(b->path, why, sizeof(why));
	assert_null(b->v);
	assert_non_null(strstr(why, "the file is gone"));
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_wipe)
	const struct CMUnitTest tests[] = {
	    TEST(a_backup_under_writing_is_one_state),
	    TEST(what_is_in_the_way_stays),
	    TEST(a_damaged_vault_makes_no_backup),
	    TEST(a_backup_is_brought_back),
	    TEST(a_log_that_is_gone_is_found),
	    TEST(a_vault_that_was_put_back_is_found),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
