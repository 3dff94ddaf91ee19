/* A carrier for the dispatch tests. The machine's name in its order tells how it behaves. */
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <unistd.h>
#include "message.h"

enum { ALL_SEALS = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL };

static struct message m;

static void outcome(enum carry_error error, enum carry_held held)
{
	struct carry_outcome o = {.error = error, .item = m.order.items, .items = m.order.items};

	for (uint32_t i = 0; i < o.items; i++)
		o.channel[i].held = held;
	strcpy(o.text, "fake");
	message_send(CARRY_FD, CARRY_OUTCOME, &o, NULL, 0, 0);
}

/* Ask, and tell whether it was granted. Leaves m alone. */
static bool step(enum carry_step_kind kind, uint32_t item)
{
	struct carry_step s = {kind, item};
	struct message answer;

	message_send(CARRY_FD, CARRY_STEP, &s, NULL, 0, 0);
	return message_receive(CARRY_FD, MESSAGE_FROM_PARENT, &answer, 0) == 1 &&
	       answer.type == CARRY_GO && answer.go.step == kind && answer.go.item == item &&
	       answer.go.allowed;
}

/* Hand over three bytes that are said to be so many. */
static void content(uint64_t size, int seals)
{
	struct carry_content c = {.role = CARRY_ROLE_OLD, .size = size, .sha = {{7}}};
	int fd = memfd_create("old", MFD_CLOEXEC | MFD_ALLOW_SEALING);

	if (write(fd, "old", 3) != 3 || fcntl(fd, F_ADD_SEALS, seals))
		exit(1);
	message_send(CARRY_FD, CARRY_CONTENT, &c, &fd, 1, 0);
}

static void good(void)
{
	struct carry_progress p = {1, CARRY_PHASE_SEND, 5, 10, 1, UINT64_MAX};

	message_send(CARRY_FD, CARRY_PROGRESS, &p, NULL, 0, 0);
	content(3, ALL_SEALS);
	if (!step(CARRY_STEP_WRITE, 2) || !step(CARRY_STEP_REPLACE, 0))
		outcome(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD);
	else
		outcome(CARRY_ERROR_NONE, CARRY_HELD_NEW);
}

/* Signs of life, and then the outcome. */
static void beats(void)
{
	struct carry_progress p = {0, CARRY_PHASE_SEND, 0, 0, 0, 0};

	for (int i = 0; i < 20; i++) {
		message_send(CARRY_FD, CARRY_PROGRESS, &p, NULL, 0, 0);
		usleep(100 * 1000);
	}
	outcome(CARRY_ERROR_NONE, CARRY_HELD_NEW);
}

static void raw(const void *bytes, size_t n)
{
	if (send(CARRY_FD, bytes, n, MSG_NOSIGNAL) < 0)
		exit(1);
	pause();
}

static void flood(void)
{
	struct carry_progress p = {0, CARRY_PHASE_SEND, 0, 0, 0, 0};

	for (;;)
		message_send(CARRY_FD, CARRY_PROGRESS, &p, NULL, 0, 0);
}

static bool is(const char *name)
{
	return !strcmp(m.order.machine, name);
}

/* What must not have come with us: any descriptor but the socket, and a signal that is ignored or
 * blocked. */
static bool clean_start(void)
{
	struct sigaction old;
	sigset_t mask;

	for (int fd = CARRY_FD + 1; fd < 1024; fd++)
		if (fd != m.fd[0] && fd != m.fd[1] && !close(fd))
			return false;
	sigprocmask(SIG_SETMASK, NULL, &mask);
	sigaction(SIGPIPE, NULL, &old);
	return !sigismember(&mask, SIGTERM) && old.sa_handler == SIG_DFL && getpgrp() == getpid();
}

int main(void)
{
	static char big[100000];
	struct carry_step far = {CARRY_STEP_WRITE, 3};
	struct carry_progress there = {3, CARRY_PHASE_SEND, 0, 0, 0, 0};
	struct message cancel;

	if (message_receive(CARRY_FD, MESSAGE_FROM_PARENT, &m, 0) != 1)
		return 1;
	if (is("good"))
		good();
	else if (is("clean"))
		outcome(clean_start() ? CARRY_ERROR_NONE : CARRY_ERROR_ORDER, CARRY_HELD_OLD);
	else if (is("silent"))
		pause();
	else if (is("deaf")) {
		signal(SIGTERM, SIG_IGN);
		for (;;)
			pause();
	} else if (is("dies"))
		abort();
	else if (is("dies-writing"))
		step(CARRY_STEP_WRITE, 2), raise(SIGKILL);
	else if (is("dies-replacing"))
		step(CARRY_STEP_REPLACE, 1), raise(SIGKILL);
	else if (is("dies-sending"))
		step(CARRY_STEP_TRANSMIT, 0), raise(SIGKILL);
	else if (is("dies-feeding"))
		step(CARRY_STEP_FEED, 0), raise(SIGKILL);
	else if (is("garbage"))
		raw("garbage", 7);
	else if (is("oversize"))
		raw(big, sizeof big);
	else if (is("far-step"))
		message_send(CARRY_FD, CARRY_STEP, &far, NULL, 0, 0), pause();
	else if (is("far-item"))
		message_send(CARRY_FD, CARRY_PROGRESS, &there, NULL, 0, 0), pause();
	else if (is("long-content"))
		content(1 << 20, ALL_SEALS), pause();
	else if (is("open-content"))
		content(3, F_SEAL_GROW), pause();
	else if (is("beats"))
		beats();
	else if (is("flood"))
		flood();
	else if (is("after")) {
		outcome(CARRY_ERROR_NONE, CARRY_HELD_NEW);
		outcome(CARRY_ERROR_IO, CARRY_HELD_OLD);
	} else if (is("stays")) {
		outcome(CARRY_ERROR_NONE, CARRY_HELD_NEW);
		signal(SIGTERM, SIG_IGN);
		for (;;)
			pause();
	} else if (is("hangs-up")) {
		close(CARRY_FD);
		pause();
	} else if (is("cancel")) {
		if (message_receive(CARRY_FD, MESSAGE_FROM_PARENT, &cancel, 0) == 1 &&
		    cancel.type == CARRY_CANCEL)
			outcome(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD);
	} else if (is("echo")) {
		/* The program must have come as it was sealed. */
		char b[8] = {0};
		bool same = pread(m.fd[0], b, sizeof b, 0) == 5 && !strcmp(b, "hello") &&
		            write(m.fd[0], "x", 1) < 0;

		outcome(same ? CARRY_ERROR_NONE : CARRY_ERROR_ORDER, CARRY_HELD_NEW);
	}
	return 0;
}
