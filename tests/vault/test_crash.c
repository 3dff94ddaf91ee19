/*
 * Goal: a kill at any moment, while events are recorded, programs are staged or the vault is made,
 * loses nothing that was acknowledged and leaves nothing half done. A child works and says each seq
 * after the call has returned; it is killed at random moments; the next open must find a trail that
 * fits and holds every seq that was said.
 *
 * What this cannot show is a loss of power: there the kernel's cache is lost too. The order of
 * writes and syncs is SQLite's (WAL, synchronous=FULL).
 */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include "vault_help.h"

enum { KILLS = 36, MAKING = 12, LONGEST_US = 40000, PROGRAM = 1300000 };

static void say(int fd, uint64_t seq)
{
	if (seq == 0 || write(fd, &seq, sizeof(seq)) != sizeof(seq))
		_exit(4);
}

/* One turn of work; every fourth one stages a program of two pieces, every third one is a
 * transaction. */
static void work(struct vault *v, uint64_t turn, int fd)
{
	static char bytes[PROGRAM];
	struct vault_by by = {(int64_t)turn, "anna", "socket"};
	struct event_part part = help_part("upper", NULL);
	struct vault_about a = {.machine = "lathe",
	    .job = "1200",
	    .revision = "A",
	    .part = &part,
	    .parts = 1,
	    .text = "lathe/1200",
	    .outcome = "agree"};
	bool together = turn % 3 == 0;
	uint64_t seq = 0;

	if (together && vault_begin(v) != 0)
		_exit(5);
	part.has_after = true;
	if (turn % 4 == 0) {
		struct vault_stage *s = vault_stage_new(v);

		snprintf(bytes, sizeof(bytes), "%llu", (unsigned long long)turn);
		part.after = help_sha(bytes, sizeof(bytes));
		if (!s || vault_stage_add(s, bytes, sizeof(bytes)) != 0 ||
		    vault_stage_keep(s, &part.after) != 0)
			_exit(6);
		seq = vault_record_arrived(v, &by, &a);
		if (!together)
			say(fd, seq);
	}
	seq = vault_record_released(v, &by, &a);
	if (!together)
		say(fd, seq);
	seq = vault_record_carried(v, &by, &a);
	if (together && vault_commit(v) != 0)
		_exit(7);
	say(fd, seq);
}

static void child(const char *path, int fd)
{
	char why[600];
	struct vault *v = vault_open(path, why, sizeof(why));
	struct timespec now;

	if (!v)
		_exit(3);
	clock_gettime(CLOCK_MONOTONIC, &now);
	for (uint64_t turn = (uint64_t)now.tv_nsec;; turn++)
		work(v, turn, fd);
}

/*
 * The last seq that the child said before it was killed; at_work: it is killed that long after its
 * first word, else after its start.
 */
static uint64_t run_and_kill(const char *path, bool at_work, useconds_t after)
{
	int fd[2], status;
	uint64_t seq, last = 0;
	pid_t pid;
	ssize_t n;

	assert_int_equal(pipe2(fd, O_CLOEXEC), 0);
	assert_int_equal(fcntl(fd[1], F_SETPIPE_SZ, 1 << 20) >= 0, 1);
	pid = fork();
	assert_true(pid >= 0);
	if (pid == 0) {
		child(path, fd[1]);
		_exit(0);
	}
	close(fd[1]);
	if (at_work)
		assert_int_equal(poll(&(struct pollfd){fd[0], POLLIN, 0}, 1, 30000), 1);
	usleep(after);
	kill(pid, SIGKILL);
	assert_int_equal(waitpid(pid, &status, 0), pid);
	if (!WIFSIGNALED(status) || WTERMSIG(status) != SIGKILL)
		fail_msg("the child ended by itself: %d", WEXITSTATUS(status));
	while ((n = read(fd[0], &seq, sizeof(seq))) == sizeof(seq))
		last = seq;
	assert_int_equal(n, 0);
	close(fd[0]);
	return last;
}

static void a_kill_loses_nothing_that_was_acknowledged(void **state)
{
	struct bench *b = *state;
	static const char *const tail[] = {"", "-wal", "-shm", ".end"};
	unsigned seed = (unsigned)time(NULL);
	uint64_t seen = 0;

	vault_close(b->v);
	b->v = NULL;
	print_message("seed %u\n", seed);
	srand(seed);
	for (int round = 0; round < KILLS + MAKING; round++) {
		struct vault_verdict out;
		bool making = round % 4 == 0; /* the round begins with making the vault */
		uint64_t said;
		char name[320];

		for (int i = 0; making && i < 4; i++) {
			snprintf(name, sizeof(name), "%s%s", b->path, tail[i]);
			assert_true(unlink(name) == 0 || errno == ENOENT);
			seen = 0;
		}
		said = run_and_kill(b->path, !making, (useconds_t)(rand() % LONGEST_US));
		assert_true(making || said > seen);
		help_open(b);
		if (vault_verify(b->v, true, &out) != 0)
			fail_msg("round %d: %s", round, vault_error(b->v));
		if (!out.good)
			fail_msg("round %d: entry %llu: %s", round,
			    (unsigned long long)out.first_bad, out.text);
		if (out.events < said || out.events < seen)
			fail_msg("round %d: %llu events, %llu were said", round,
			    (unsigned long long)out.events, (unsigned long long)said);
		seen = out.events;
		assert_int_equal(
		    help_number(b->v->db, "SELECT count(*) FROM program WHERE sha IS NULL"), 0);
		assert_int_equal(
		    help_number(b->v->db,
		        "SELECT count(*) FROM piece WHERE program NOT IN (SELECT id FROM program)"),
		    0);
		vault_close(b->v);
		b->v = NULL;
	}
	help_open(b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(
	        a_kill_loses_nothing_that_was_acknowledged, help_setup, help_teardown),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
