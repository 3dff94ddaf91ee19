/*
 * Goal: whatever system call the carrier is killed at, the next CARRY_INSPECT ends with both new
 * programs or with both old ones, leaves nothing behind, and its outcome tells what is there.
 *
 * The carrier runs under ptrace and is killed before, and after, the first, second, third ... call
 * that can change a file, until an order passes unharmed. This is a kill of the process; for a
 * power cut the same trace shows that everything is synced before a program's name changes.
 */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ptrace.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include "rig.h"

#define OLD_UP "%\nO1(OLD UPPER)\nM30\n%\n"
#define OLD_LO "%\nO1(OLD LOWER)\nM30\n%\n"
#define NEW_UP "%\nO1(NEW UPPER)\nM30\n%\n"
#define NEW_LO "%\nO1(NEW LOWER)\nM30\n%\n"

static struct rig r;

enum { TRACE = 256 };
static uint64_t trace[TRACE]; /* numbers of the calls of interest, in order */
static unsigned traced;

static bool changes_files(const struct __ptrace_syscall_info *info)
{
	switch (info->entry.nr) {
	case SYS_openat:
		return info->entry.args[2] & O_CREAT;
	case SYS_write:
	case SYS_fsync:
	case SYS_fdatasync:
	case SYS_linkat:
	case SYS_renameat:
	case SYS_unlinkat:
		return true;
	}
	return false;
}

/* Start the carrier so that it stops at its exec. */
static void start_traced(void)
{
	int pair[2], status;

	r.steps = r.contents = r.progresses = 0;
	r.has_outcome = false;
	assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair), 0);
	r.sock = pair[0];
	r.pid = fork();
	assert_true(r.pid >= 0);
	if (r.pid == 0) {
		/* The leak check cannot run under ptrace. */
		setenv("ASAN_OPTIONS", "detect_leaks=0", 1);
		if (dup2(pair[1], CARRY_FD) < 0 || ptrace(PTRACE_TRACEME, 0, 0, 0))
			_exit(126);
		execl(BUILD_DIR "/daemon/yoke-carrier", "yoke-carrier", (char *)NULL);
		_exit(127);
	}
	close(pair[1]);
	assert_int_equal(waitpid(r.pid, &status, 0), r.pid);
	if (WIFEXITED(status) && WEXITSTATUS(status) == 126) {
		close(r.sock);
		print_message("no right to trace: not tried\n");
		skip();
	}
	assert_true(WIFSTOPPED(status));
	ptrace(PTRACE_SETOPTIONS, r.pid, 0, PTRACE_O_TRACESYSGOOD | PTRACE_O_EXITKILL);
	rig_send_order(&r);
}

/* Grant whatever is asked, without waiting. */
static void grant(void)
{
	struct message m;

	while (message_receive(r.sock, MESSAGE_FROM_CARRIER, &m, MSG_DONTWAIT) == 1) {
		struct carry_go go = {m.step.step, m.step.item, 1};

		if (m.type == CARRY_STEP)
			message_send(r.sock, CARRY_GO, &go, NULL, 0, 0);
		message_close(&m);
	}
}

/* Run until the n-th call of interest and kill there; after: when it was done. False when the
 * carrier ended before. */
static bool run_and_kill(unsigned n, bool after)
{
	bool armed = false, killed = false;
	int status = 0;

	start_traced();
	traced = 0;
	while (!killed) {
		struct __ptrace_syscall_info info;
		int sig = 0;

		grant();
		if (WIFSTOPPED(status) && WSTOPSIG(status) != SIGTRAP &&
		    WSTOPSIG(status) != (SIGTRAP | 0x80))
			sig = WSTOPSIG(status);
		assert_int_equal(ptrace(PTRACE_SYSCALL, r.pid, 0, sig), 0);
		/* A poll in the carrier waits for the grant: serve it while it runs. */
		while (waitpid(r.pid, &status, WNOHANG) == 0) {
			grant();
			usleep(20);
		}
		if (WIFEXITED(status) || WIFSIGNALED(status))
			break;
		if (WSTOPSIG(status) != (SIGTRAP | 0x80) ||
		    ptrace(PTRACE_GET_SYSCALL_INFO, r.pid, (void *)sizeof info, &info) <= 0)
			continue;
		if (info.op == PTRACE_SYSCALL_INFO_ENTRY && changes_files(&info)) {
			if (traced < TRACE)
				trace[traced++] = info.entry.nr;
			armed |= --n == 0;
		}
		killed = armed &&
		         info.op == (after ? PTRACE_SYSCALL_INFO_EXIT : PTRACE_SYSCALL_INFO_ENTRY);
	}
	if (killed) {
		kill(r.pid, SIGKILL);
		waitpid(r.pid, &status, 0);
	} else {
		assert_true(WIFEXITED(status));
		assert_int_equal(WEXITSTATUS(status), 0);
	}
	close(r.sock);
	r.sock = -1;
	return killed;
}

static void lay_out(bool with_old, bool with_expect)
{
	rig_open(&r, CARRY_SEND);
	rig_directory(&r, 0, "path1", "O1.NC");
	rig_directory(&r, 1, "path2", "O1.NC");
	if (with_old) {
		rig_write(&r, "share/path1/O1.NC", OLD_UP);
		rig_write(&r, "share/path2/O1.NC", OLD_LO);
	}
	rig_program(&r, 0, NEW_UP);
	rig_program(&r, 1, NEW_LO);
	if (with_expect) {
		rig_expect(&r, 0, OLD_UP);
		rig_expect(&r, 1, OLD_LO);
	}
}

static bool is(const char *file, const char *text)
{
	return file ? text && !strcmp(file, text) : !text;
}

/* All new or all old, nothing left, and the outcome agrees. */
static void settled(bool with_old)
{
	const char *up = rig_read(&r, "share/path1/O1.NC"), *lo = rig_read(&r, "share/path2/O1.NC");
	bool all_new = is(up, NEW_UP) && is(lo, NEW_LO);
	bool all_old = is(up, with_old ? OLD_UP : NULL) && is(lo, with_old ? OLD_LO : NULL);

	assert_true(all_new || all_old);
	assert_true(r.has_outcome);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	for (int i = 0; i < 2; i++) {
		uint32_t held = r.outcome.channel[i].held;

		if (all_new)
			assert_int_equal(held, CARRY_HELD_NEW);
		else
			assert_true(
			    held == CARRY_HELD_OLD || (!with_old && held == CARRY_HELD_ABSENT));
	}
	assert_int_equal(rig_leftovers(&r, "share/path1") + rig_leftovers(&r, "share/path2"), 0);
}

static void inspect(bool with_old)
{
	r.order.act = CARRY_INSPECT;
	rig_run(&r);
	settled(with_old);
}

static void kill_everywhere(bool with_old, bool with_expect)
{
	unsigned n = 1;

	for (bool killed = true; killed; n++)
		for (int after = 0; after < 2 && killed; after++) {
			lay_out(with_old, with_expect);
			killed = run_and_kill(n, after);
			inspect(with_old);
			rig_close(&r);
		}
	assert_true(n > 15); /* it was really killed in many places */
}

static void over_old_programs(void **state)
{
	kill_everywhere(true, false);
}

static void over_known_old_programs(void **state)
{
	kill_everywhere(true, true);
}

static void first_pair(void **state)
{
	kill_everywhere(false, false);
}

static enum rig_answer kill_between(struct rig *rig, const struct carry_step *s)
{
	return s->step == CARRY_STEP_REPLACE && s->item == 1 ? RIG_KILL : RIG_GO;
}

/* The inspection of a mixed machine is itself killed everywhere. */
static void inspection_of_a_mixed_machine(void **state)
{
	unsigned n = 1;

	for (bool killed = true; killed; n++)
		for (int after = 0; after < 2 && killed; after++) {
			lay_out(true, n % 2);
			r.on_step = kill_between;
			assert_false(rig_run(&r));
			assert_string_equal(rig_read(&r, "share/path1/O1.NC"), NEW_UP);
			assert_string_equal(rig_read(&r, "share/path2/O1.NC"), OLD_LO);
			r.order.act = CARRY_INSPECT;
			killed = run_and_kill(n, after);
			inspect(true);
			assert_string_equal(rig_read(&r, "share/path1/O1.NC"), OLD_UP);
			assert_string_equal(rig_read(&r, "share/path2/O1.NC"), OLD_LO);
			rig_close(&r);
		}
	assert_true(n > 5);
}

static bool is_sync(uint64_t nr)
{
	return nr == SYS_fsync || nr == SYS_fdatasync;
}

static void count(unsigned from, uint64_t nr, unsigned *syncs, unsigned *others)
{
	*syncs = *others = 0;
	for (unsigned i = from; i < traced && trace[i] != nr; i++) {
		*syncs += is_sync(trace[i]);
		*others += trace[i] == SYS_renameat || trace[i] == SYS_linkat || trace[i] == SYS_unlinkat ||
		           trace[i] == SYS_openat;
	}
}

/*
 * Four syncs before the first rename, after the last file was made: each new program, and each folder
 * with its .part and .old. From then on a power cut may keep either rename, both or none: all that is
 * needed to put it right is there. Two after the last rename, before anything is removed and anything is
 * said: the folders.
 */
static void syncs_come_before_names_change(void **state)
{
	unsigned syncs, others, last = 0, made = 0, renames = 0;

	lay_out(true, true);
	assert_false(run_and_kill(UINT_MAX, false));
	for (unsigned i = 0; i < traced; i++) {
		if (trace[i] == SYS_renameat)
			last = i, renames++;
		else if (!renames && (trace[i] == SYS_openat || trace[i] == SYS_linkat))
			made = i;
	}
	assert_int_equal(renames, 2);
	count(made + 1, SYS_renameat, &syncs, &others);
	assert_int_equal(syncs, 4);
	assert_int_equal(others, 0);
	count(last + 1, SYS_unlinkat, &syncs, &others);
	assert_int_equal(syncs, 2);
	assert_int_equal(others, 0);
	assert_string_equal(rig_read(&r, "share/path1/O1.NC"), NEW_UP);
	rig_close(&r);
}

/* Killed at each step, before and right after its grant. */
static struct carry_step at;
static enum rig_answer how;

static enum rig_answer kill_at(struct rig *rig, const struct carry_step *s)
{
	return s->step == at.step && s->item == at.item ? how : RIG_GO;
}

static void at_each_step(void **state)
{
	static const struct carry_step when[] = {
	    {CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 0}, {CARRY_STEP_REPLACE, 1}};

	for (size_t i = 0; i < 3; i++)
		for (how = RIG_KILL; how <= RIG_GO_KILL; how++) {
			lay_out(true, true);
			at = when[i];
			r.on_step = kill_at;
			rig_run(&r);
			inspect(true);
			rig_close(&r);
		}
}

/* The order was done and cleaned up, then the operator edited one program: nothing is put back over
 * the edit. */
static void an_edit_after_the_order_stays(void **state)
{
	lay_out(true, true);
	assert_true(rig_run(&r));
	rig_write(&r, "share/path2/O1.NC", "edited at the machine");
	r.order.act = CARRY_INSPECT;
	rig_run(&r);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_NEW);
	assert_int_equal(r.outcome.channel[1].held, CARRY_HELD_OTHER);
	assert_string_equal(rig_read(&r, "share/path2/O1.NC"), "edited at the machine");
	assert_int_equal(r.contents, 1);
	assert_string_equal(r.content[0].text, "edited at the machine");
	assert_int_equal(r.steps, 0);
	rig_close(&r);
}

/* The mate is unchanged between the revisions: it counts as old and as new. */
static void a_mate_without_a_change(void **state)
{
	lay_out(true, true);
	rig_program(&r, 0, OLD_UP);
	r.on_step = kill_between;
	assert_false(rig_run(&r));
	r.order.act = CARRY_INSPECT;
	rig_run(&r);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.channel[1].held, CARRY_HELD_OLD);
	assert_string_equal(rig_read(&r, "share/path2/O1.NC"), OLD_LO);
	rig_close(&r);
}

/* An inspection with no share in sight says that it knows nothing. */
static void inspection_without_a_share(void **state)
{
	lay_out(true, true);
	rename(rig_path(&r, "share"), rig_path(&r, "away"));
	r.order.act = CARRY_INSPECT;
	rig_run(&r);
	assert_int_equal(r.outcome.error, CARRY_ERROR_OFFLINE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_UNKNOWN);
	assert_int_equal(r.outcome.channel[1].held, CARRY_HELD_UNKNOWN);
	rig_close(&r);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(over_old_programs),
	    cmocka_unit_test(over_known_old_programs),
	    cmocka_unit_test(first_pair),
	    cmocka_unit_test(inspection_of_a_mixed_machine),
	    cmocka_unit_test(syncs_come_before_names_change),
	    cmocka_unit_test(at_each_step),
	    cmocka_unit_test(an_edit_after_the_order_stays),
	    cmocka_unit_test(a_mate_without_a_change),
	    cmocka_unit_test(inspection_without_a_share),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
