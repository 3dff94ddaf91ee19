#include "parent.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>
#include "message.h"

#define MS UINT64_C(1000000) /* in ns */

enum {
	PROGRESS_MS = 200, /* between two progress messages of one phase */
	SEND_MS = 30000,   /* for a parent that takes nothing: then it counts as gone */
};

struct parent {
	int sock, stop_fd;
	const struct parent_hand *hand;
	void *ctx;
	bool stop;  /* cancelled, or told to end by a signal */
	bool gone;  /* nobody at the other end */
	bool ended; /* the outcome was sent */
	bool answered;
	bool looked; /* parent_wait() has just asked the socket and the signals */
	struct carry_go go;
	struct carry_progress
	    last; /* all zero before the first, which is where every order begins */
	bool shown;
	uint64_t last_ms;
	uint64_t beat_ms; /* half of what is due, so that a late one is still in time */
};

struct parent *parent_new(int sock, int stop_fd, const struct parent_hand *hand, void *ctx)
{
	struct parent *p = calloc(1, sizeof *p);

	if (!p)
		return NULL;
	p->sock = sock;
	p->stop_fd = stop_fd;
	p->hand = hand;
	p->ctx = ctx;
	p->last_ms = parent_now();
	p->beat_ms = CARRY_HEARTBEAT_MS / 2;
	return p;
}

void parent_free(struct parent *p)
{
	free(p);
}

static uint64_t now_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (uint64_t)t.tv_sec * 1000 * MS + (uint64_t)t.tv_nsec;
}

uint64_t parent_now(void)
{
	return now_ns() / MS;
}

/* Send, waiting while the parent's queue is full; a parent that takes nothing for SEND_MS is gone.
 */
static int send_message(
    struct parent *p, enum carry_type type, const void *body, const int *fd, unsigned fds)
{
	uint64_t until = parent_now() + SEND_MS;

	if (p->ended)
		return -EPROTO;
	while (!p->gone) {
		struct pollfd q = {p->sock, POLLOUT, 0};
		int rc = message_send(p->sock, type, body, fd, fds, MSG_DONTWAIT);

		if (rc == 0 || rc == -EBADMSG)
			return rc;
		if (rc != -EAGAIN || parent_now() >= until)
			p->gone = true;
		else
			poll(&q, 1, CARRY_HEARTBEAT_MS / 2);
	}
	return -EPIPE;
}

/* Who listens for months beats slowly, but not any more when somebody waits for the end of it. */
static void asked_to_stop(struct parent *p)
{
	if (p->beat_ms > CARRY_HEARTBEAT_MS / 2)
		p->last_ms = parent_now();
	p->beat_ms = CARRY_HEARTBEAT_MS / 2;
	p->stop = true;
}

/* Take what the parent said. */
static void hear(struct parent *p)
{
	struct message m;

	while (!p->gone) {
		int rc = message_receive(p->sock, MESSAGE_FROM_PARENT, &m, MSG_DONTWAIT);

		if (rc == -EAGAIN)
			return;
		if (rc <= 0 && rc != -EBADMSG)
			p->gone = true;
		if (rc <= 0)
			continue; /* what is not allowed is dropped: a step stays without its grant
			           */
		if (m.type == CARRY_CANCEL)
			asked_to_stop(p);
		if (m.type == CARRY_GO) {
			p->go = m.go;
			p->answered = true;
		}
		message_close(&m);
	}
}

static void hear_signal(struct parent *p)
{
	struct signalfd_siginfo s;

	while (p->stop_fd >= 0 && read(p->stop_fd, &s, sizeof s) == (ssize_t)sizeof s)
		asked_to_stop(p);
}

static void beat(struct parent *p)
{
	uint64_t now = parent_now();

	if (p->sock < 0 || p->gone || p->ended || now - p->last_ms < p->beat_ms)
		return;
	/* A full queue means that the parent has enough to read: no need to wait for it. */
	message_send(p->sock, CARRY_PROGRESS, &p->last, NULL, 0, MSG_DONTWAIT);
	p->last_ms = now;
}

/* How long it is until a millisecond of the clock begins; a heartbeat's time at most. */
static struct timespec left(const struct parent *p, uint64_t until)
{
	uint64_t now = now_ns(), most = p->beat_ms * MS;
	uint64_t ns = until <= now / MS ? 0 : until < UINT64_MAX / MS ? until * MS - now : most;

	ns = ns < most ? ns : most;
	return (struct timespec){
	    .tv_sec = (time_t)(ns / (1000 * MS)), .tv_nsec = (long)(ns % (1000 * MS))};
}

/*
 * Wait for own, the parent or a signal, until the clock of parent_now() comes to until, or up to
 * the next heartbeat. How many of own have revents, or -errno.
 */
static int turn(struct parent *p, struct pollfd *own, unsigned n, uint64_t until)
{
	/* What poll is not to look at is negative: a gone parent would wake it for ever. */
	struct pollfd q[PARENT_WAIT_MAX + 2] = {
	    {p->gone ? -1 : p->sock, POLLIN, 0}, {p->stop_fd, POLLIN, 0}};
	struct timespec most = left(p, until);
	int came, mine = 0;

	for (unsigned i = 0; i < n; i++)
		q[2 + i] = own[i];
	came = ppoll(q, 2 + n, &most, NULL);
	if (came < 0 && errno != EINTR)
		return -errno;
	if (came > 0 && q[0].revents)
		hear(p);
	if (came > 0 && q[1].revents)
		hear_signal(p);
	for (unsigned i = 0; i < n; i++) {
		own[i].revents = came > 0 ? q[2 + i].revents : 0;
		mine += own[i].revents != 0;
	}
	beat(p);
	return mine;
}

static bool stopping(const struct parent *p)
{
	return p->stop || (p->gone && p->sock >= 0);
}

int parent_wait_any(struct parent *p, struct pollfd *own, unsigned n, uint64_t ms)
{
	uint64_t now = parent_now(), until = ms < UINT64_MAX - now ? now + ms : UINT64_MAX;
	int came;

	do
		came = turn(p, own, n, until);
	while (!came && !stopping(p) && parent_now() < until);
	p->looked = came >= 0;
	return came;
}

int parent_wait(struct parent *p, int fd, short events, uint64_t ms)
{
	struct pollfd own = {fd, events, 0};
	int came = parent_wait_any(p, &own, 1, ms);

	return came < 0 ? came : own.revents;
}

void parent_beat_slowly(struct parent *p)
{
	p->beat_ms = CARRY_LISTEN_HEARTBEAT_MS / 2;
}

bool parent_gone(const struct parent *p)
{
	return p->gone;
}

bool parent_stopping(struct parent *p)
{
	if (!p->looked && p->sock >= 0)
		hear(p);
	if (!p->looked)
		hear_signal(p);
	p->looked = false;
	return stopping(p);
}

bool parent_tick(struct parent *p)
{
	beat(p);
	return parent_stopping(p);
}

int parent_order(struct parent *p, struct message *m, uint64_t ms)
{
	struct pollfd q = {p->sock, POLLIN, 0};
	int rc;

	if (poll(&q, 1, (int)ms) <= 0)
		return -ETIMEDOUT;
	rc = message_receive(p->sock, MESSAGE_FROM_PARENT, m, MSG_DONTWAIT);
	if (rc == 0)
		return -EPIPE;
	if (rc < 0)
		return rc;
	if (m->type == CARRY_ORDER)
		return 0;
	message_close(m);
	return -EBADMSG;
}

static bool ask(struct parent *p, enum carry_step_kind step, uint32_t item, bool back)
{
	struct carry_step s = {step, item};

	if (p->sock < 0) {
		p->hand->step(p->ctx, &s);
		return back || !parent_stopping(p);
	}
	if (!back && parent_stopping(p))
		return false;
	p->answered = false;
	if (send_message(p, CARRY_STEP, &s, NULL, 0) == -EBADMSG)
		return false;
	while (!p->gone && (back || !stopping(p))) {
		if (turn(p, NULL, 0, UINT64_MAX) < 0)
			return false;
		/* An answer to an earlier question that was no longer waited for does not count. */
		if (p->answered && p->go.step == s.step && p->go.item == s.item)
			return p->go.allowed && (back || !stopping(p));
		p->answered = false;
	}
	return back && p->gone;
}

bool parent_step(struct parent *p, enum carry_step_kind step, uint32_t item)
{
	return ask(p, step, item, false);
}

bool parent_step_back(struct parent *p, enum carry_step_kind step, uint32_t item)
{
	return ask(p, step, item, true);
}

void parent_progress(struct parent *p, const struct carry_progress *at)
{
	uint64_t now = parent_now();
	bool same = p->shown && at->item == p->last.item && at->phase == p->last.phase;
	bool full = at->bytes >= at->total && at->bytes != p->last.bytes;

	if (same && !full && now - p->last_ms < PROGRESS_MS) {
		p->last = *at;
		return;
	}
	p->last = *at;
	p->shown = true;
	p->last_ms = now;
	if (p->sock < 0)
		p->hand->progress(p->ctx, at);
	else if (!p->gone && !p->ended)
		message_send(p->sock, CARRY_PROGRESS, at, NULL, 0, MSG_DONTWAIT);
}

int parent_content(struct parent *p, uint32_t item, enum carry_role role, int fd, uint64_t size,
    const struct sha *sha)
{
	return parent_content_note(p, item, role, fd, size, sha, "");
}

int parent_content_note(struct parent *p, uint32_t item, enum carry_role role, int fd,
    uint64_t size, const struct sha *sha, const char *note)
{
	struct carry_content c = {.item = item, .role = role, .size = size, .sha = *sha};

	snprintf(c.note, sizeof c.note, "%s", note);
	if (p->sock >= 0)
		return send_message(p, CARRY_CONTENT, &c, &fd, 1);
	fd = fcntl(fd, F_DUPFD_CLOEXEC, 3);
	if (fd < 0)
		return -errno;
	return p->hand->content(p->ctx, &c, fd);
}

int parent_outcome(struct parent *p, const struct carry_outcome *o)
{
	int rc = 0;

	if (p->sock < 0)
		p->hand->outcome(p->ctx, o);
	else
		rc = send_message(p, CARRY_OUTCOME, o, NULL, 0);
	p->ended = true;
	return rc;
}
