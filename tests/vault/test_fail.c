/*
 * Goal: when the disk is full, the vault cannot be written, or its file is not what it must be, the
 * caller is told what and what to do; nothing is half recorded, reading goes on, and writing too as
 * soon as it is possible again.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include "vault_help.h"

static char big[300000];

static void set(struct bench *b, const char *pragma)
{
	assert_int_equal(sqlite3_exec(b->v->db, pragma, NULL, NULL, NULL), SQLITE_OK);
}

static void assert_told(struct bench *b, const char *what, const char *remedy)
{
	if (!strstr(vault_error(b->v), what) || !strstr(vault_error(b->v), remedy))
		fail_msg("'%s' does not say '%s' and '%s'", vault_error(b->v), what, remedy);
	assert_non_null(strstr(vault_error(b->v), b->path));
}

/* Record and stage until it fails: the number of events recorded before. */
static uint64_t write_until_full(struct bench *b)
{
	struct vault_by by = help_by(b, "anna");
	struct vault_about a = {.machine = "lathe", .text = big};
	uint64_t n = 0, seq;

	memset(big, 'x', sizeof(big) - 1);
	while ((seq = vault_record_locked(b->v, &by, &a)) != 0) {
		n = seq;
		assert_true(n < 1000);
	}
	return n;
}

static void a_full_disk_is_told_and_loses_nothing(void **state)
{
	struct bench *b = *state;
	uint64_t day = help_day(b), n;
	struct vault_by by = help_by(b, "anna");
	struct vault_stage *s;
	struct sha sha;
	char limit[100];
	static char program[3 << 20];

	snprintf(limit, sizeof(limit), "PRAGMA max_page_count=%lld",
	    (long long)help_number(b->v->db, "PRAGMA page_count") + 400);
	set(b, limit);
	n = write_until_full(b);
	assert_true(n > day);
	assert_told(b, "no space is left", "free space");
	help_assert_good(b, n);

	/* A program: refused piece by piece, and what was written of it is given back. */
	s = vault_stage_new(b->v);
	assert_int_equal(vault_stage_add(s, program, sizeof(program)), -1);
	assert_told(b, "no space is left", "free space");
	sha = help_sha(program, sizeof(program));
	assert_int_equal(vault_stage_keep(s, &sha), -1);
	s = vault_stage_new(b->v);
	assert_int_equal(vault_stage_add(s, program, 900000), 0); /* in memory */
	sha = help_sha(program, 900000);
	assert_int_equal(vault_stage_keep(s, &sha), -1);
	assert_told(b, "no space is left", "free space");

	/* In a transaction: all of it is undone. */
	assert_int_equal(vault_begin(b->v), 0);
	(void)vault_record_stopped(b->v, &by);
	assert_int_equal(
	    vault_record_locked(b->v, &by, &(struct vault_about){.machine = "lathe", .text = big}),
	    0);
	assert_int_equal(vault_commit(b->v), -1);
	assert_told(b, "no space is left", "free space");
	help_assert_good(b, n);

	set(b, "PRAGMA max_page_count=1000000");
	assert_int_equal(vault_record_stopped(b->v, &by), n + 1);
	help_keep(b, program, sizeof(program));
	assert_int_equal(
	    help_number(b->v->db, "SELECT count(*) FROM program WHERE sha IS NULL"), 0);
	help_reopen(b);
	help_assert_good(b, n + 1);
}

/* A device that is really full, where the machine that runs the test lets us make one. */
static void a_full_device_is_told_and_loses_nothing(void **state)
{
	struct bench *b = *state;
	struct bench small = {.now_us = 1};
	struct vault_by by = {1, "anna", "socket"};
	char ballast[400];
	uint64_t n;
	int fd;

	snprintf(small.dir, sizeof(small.dir), "%.200s/small", b->dir);
	snprintf(small.path, sizeof(small.path), "%s/vault.db", small.dir);
	snprintf(ballast, sizeof(ballast), "%s/ballast", small.dir);
	assert_int_equal(mkdir(small.dir, 0700), 0);
	if (mount("none", small.dir, "tmpfs", 0, "size=4m") != 0) {
		print_message(
		    "no mount here (%s): a_full_disk_... holds the same by a page limit\n",
		    strerror(errno));
		rmdir(small.dir);
		skip();
	}
	fd = open(ballast, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	assert_true(fd >= 0 && posix_fallocate(fd, 0, 1 << 20) == 0);
	close(fd);
	help_open(&small);
	n = write_until_full(&small);
	assert_true(n > 0);
	assert_told(&small, "no space is left", "free space");
	help_assert_good(&small, n);
	assert_int_equal(unlink(ballast), 0);
	assert_int_equal(vault_record_stopped(small.v, &by), n + 1);
	help_reopen(&small);
	help_assert_good(&small, n + 1);

	/* No room even for a new vault. */
	fd = open(ballast, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
	while (write(fd, big, 4096) > 0)
		;
	close(fd);
	vault_close(small.v);
	snprintf(small.path, sizeof(small.path), "%s/other.db", small.dir);
	small.v = vault_open(small.path, ballast, sizeof(ballast));
	assert_null(small.v);
	assert_non_null(strstr(ballast, "space"));
	assert_int_equal(umount(small.dir), 0);
	assert_int_equal(rmdir(small.dir), 0);
}

static void a_vault_that_became_read_only_is_still_read(void **state)
{
	struct bench *b = *state;
	uint64_t n = help_day(b);
	struct vault_by by = help_by(b, "anna");
	struct vault_stage *s;
	struct sha sha = help_sha("M30", 3);

	set(b, "PRAGMA query_only=ON");
	assert_int_equal(vault_record_stopped(b->v, &by), 0);
	assert_told(b, "cannot be written", "writable");
	s = vault_stage_new(b->v);
	assert_int_equal(vault_stage_add(s, "M30", 3), 0);
	assert_int_equal(vault_stage_keep(s, &sha), -1);
	assert_told(b, "cannot be written", "writable");
	assert_string_equal(help_machine(b).name, "lathe");
	help_assert_good(b, n);
	set(b, "PRAGMA query_only=OFF");
	assert_int_equal(vault_record_stopped(b->v, &by), n + 1);
	help_assert_good(b, n + 1);
}

/* Root passes by every mode: a child without privileges opens the file. */
static void open_as_nobody(struct bench *b, mode_t file, mode_t dir, const char *want)
{
	int pipe_fd[2], status;
	char why[700] = "";
	pid_t child;
	ssize_t n;

	assert_int_equal(chmod(b->path, file), 0);
	assert_int_equal(chmod(b->dir, dir), 0);
	assert_int_equal(pipe(pipe_fd), 0);
	child = fork();
	assert_true(child >= 0);
	if (child == 0) {
		struct vault *v;

		if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
			_exit(9);
		v = vault_open(b->path, why, sizeof(why));
		if (write(pipe_fd[1], v ? "opened" : why, strlen(v ? "opened" : why)) < 0)
			_exit(8);
		_exit(0);
	}
	close(pipe_fd[1]);
	memset(why, 0, sizeof(why));
	n = read(pipe_fd[0], why, sizeof(why) - 1);
	close(pipe_fd[0]);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(chmod(b->dir, 0700), 0);
	assert_int_equal(chmod(b->path, 0600), 0);
	assert_int_equal(WEXITSTATUS(status), 0);
	assert_true(n > 0);
	if (!strstr(why, want))
		fail_msg("'%s' does not say '%s'", why, want);
}

static void a_vault_that_cannot_be_written_is_not_opened(void **state)
{
	struct bench *b = *state;
	char lock[320];
	struct stat st;

	help_day(b);
	vault_close(b->v);
	snprintf(lock, sizeof(lock), "%s.lock", b->path);
	open_as_nobody(b, 0444, 0555, "make its folder writable");
	assert_int_equal(unlink(lock), 0);
	open_as_nobody(b, 0444, 0777, "cannot be written");
	assert_int_equal(unlink(lock), 0);
	open_as_nobody(b, 0, 0777, "cannot be opened");
	assert_int_equal(unlink(lock), 0);
	help_open(b);
	help_assert_good(b, 0);
	assert_int_equal(stat(b->path, &st), 0);
	assert_int_equal(st.st_mode & 0777, 0600);
}

static void only_its_owner_may_read_it(void **state)
{
	struct bench *b = *state;
	static const char *const tail[] = {"", "-wal", "-shm", ".lock", ".end"};
	mode_t old = umask(0);

	vault_close(b->v);
	assert_int_equal(unlink(b->path), 0);
	help_open(b);
	umask(old);
	help_day(b);
	for (size_t i = 0; i < 5; i++) {
		char name[320];
		struct stat st;

		snprintf(name, sizeof(name), "%s%s", b->path, tail[i]);
		assert_int_equal(stat(name, &st), 0);
		assert_int_equal(st.st_mode & 0777, 0600);
	}
	assert_int_equal(help_number(b->v->db, "PRAGMA synchronous"), 2);
	assert_int_equal(help_number(b->v->db, "PRAGMA foreign_keys"), 1);
	assert_int_equal(help_number(b->v->db, "PRAGMA trusted_schema"), 0);
	assert_int_equal(help_number(b->v->db, "PRAGMA cell_size_check"), 1);
	assert_int_equal(
	    help_number(b->v->db, "SELECT journal_mode='wal' FROM pragma_journal_mode"), 1);
}

static void assert_not_opened(struct bench *b, const char *want)
{
	char why[600] = "";

	b->v = vault_open(b->path, why, sizeof(why));
	assert_null(b->v);
	if (!strstr(why, want) || !strstr(why, b->path) || strchr(why, '\n'))
		fail_msg("'%s' does not say '%s'", why, want);
}

static void only_one_process_has_it(void **state)
{
	struct bench *b = *state;
	struct bench other = *b;

	assert_not_opened(&other, "another yoked");
	vault_close(b->v);
	help_open(b);
}

static void what_is_no_vault_is_left_alone(void **state)
{
	struct bench *b = *state;
	sqlite3 *db;
	FILE *f;

	vault_close(b->v);
	help_sql(b->path, "PRAGMA user_version=999");
	assert_not_opened(b, "later version");
	help_sql(b->path, "PRAGMA user_version=0");
	assert_not_opened(b, "no version");
	help_sql(b->path, "PRAGMA user_version=999; PRAGMA application_id=5");
	assert_not_opened(b, "something else");

	assert_int_equal(unlink(b->path), 0);
	assert_int_equal(sqlite3_open(b->path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "CREATE TABLE t(x)", NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
	assert_not_opened(b, "something else");
	assert_int_equal(sqlite3_open(b->path, &db), SQLITE_OK);
	assert_int_equal(help_number(db, "SELECT count(*) FROM sqlite_schema"), 1);
	sqlite3_close(db);

	f = fopen(b->path, "we");
	assert_non_null(f);
	fputs("(JOB 1200 REV A upper) this is a program, not a vault, whatever its name says about "
	      "it;"
	      " it is longer than a database's header, which has a hundred bytes\n",
	    f);
	fclose(f);
	assert_not_opened(b, "no vault");
	/* Nothing at all is an empty vault. */
	assert_int_equal(truncate(b->path, 0), 0);
	help_open(b);
	help_day(b);
	help_assert_good(b, 0);
}

/* A kilobyte of noise at an offset. */
static void write_noise(const char *path, off_t at)
{
	unsigned char noise[1024];
	int fd = open(path, O_WRONLY | O_CLOEXEC);

	assert_true(fd >= 0);
	memset(noise, 0x5a, sizeof(noise));
	assert_int_equal(pwrite(fd, noise, sizeof(noise), at), sizeof(noise));
	close(fd);
}

/* Overwrite each page in turn: never a crash, never a good answer about a damaged trail or state.
 */
static void a_damaged_file_is_told(void **state)
{
	struct bench *b = *state;
	char why[600];
	unsigned opened = 0, refused = 0, unreadable = 0, bad = 0;
	unsigned char *whole;
	size_t size;

	help_day(b);
	vault_close(b->v);
	whole = help_read_file(b->path, &size);
	for (off_t page = 0; page < (off_t)(size / 4096); page++) {
		/* The head of every second page, the tail of the others. */
		off_t at = page * 4096 + 3 * (page % 2) * 1024;
		const unsigned char *head = whole + page * 4096;
		struct vault_verdict out;

		help_write_file(b->path, whole, size);
		write_noise(b->path, at);
		b->v = vault_open(b->path, why, sizeof(why));
		if (!b->v) {
			refused++;
			continue;
		}
		opened++;
		if (vault_verify(b->v, true, &out) != 0)
			unreadable++;
		else if (!out.good)
			bad++;
		else if (page % 2 == 0 || head[3] != 0 ||
		         head[4] != 0) /* an empty page's tail is no content */
			fail_msg("page %lld is damaged and nobody noticed", (long long)page);
		vault_close(b->v);
	}
	print_message("%u refused at the start, %u opened: %u unreadable, %u found bad\n", refused,
	    opened, unreadable, bad);
	assert_true(refused > 0 && bad > 0);
	help_write_file(b->path, whole, size);
	free(whole);
	help_open(b);
	help_assert_good(b, 0);
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, help_setup, help_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(a_full_disk_is_told_and_loses_nothing),
	    TEST(a_full_device_is_told_and_loses_nothing),
	    TEST(a_vault_that_became_read_only_is_still_read),
	    TEST(a_vault_that_cannot_be_written_is_not_opened),
	    TEST(only_its_owner_may_read_it),
	    TEST(only_one_process_has_it),
	    TEST(what_is_no_vault_is_left_alone),
	    TEST(a_damaged_file_is_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
