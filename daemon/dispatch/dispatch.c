/*
 * One struct job per carrier process, and for each either a next event or a deadline:
 *
 *   RUNNING --silent, or a bad message--> TERM --times.term--> KILL --times.kill--> ABANDONED
 *      |                                   |                    |                       |
 *      +----------- process ended ---------+--------------------+--- outcome told ------+--> GONE
 *
 * enter() moves down the chain; ended() is the only way to GONE and reaps. The outcome is told
 * once: on the way to GONE after the socket was emptied, or on entering ABANDONED. A machine is
 * free again only after its process was reaped.
 */
#include "dispatch.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include "known.h"
#include "message.h"
#include "launch.h"

enum state { RUNNING, TERM, KILL, ABANDONED, GONE };

enum { MESSAGES_PER_TURN = 64 }; /* so that a chatty carrier cannot hold the loop */

struct job {
	struct job *next;
	struct dispatch *d;
	enum state state;
	struct launch proc; /* pidfd and sock are -1 once closed */
	uv_poll_t sock_poll, pid_poll;
	uv_timer_t timer;
	int handles; /* not closed yet */
	bool has_outcome, told;
	bool hurry; /* it listened, and was asked to end: it says something as often as others */
	unsigned heard;  /* allowed messages, counted round */
	const char *why; /* the first reason to end it, NULL when it ends by itself */
	struct carry_order order;
	struct carry_outcome outcome;
	struct known known;
};

struct dispatch {
	uv_loop_t *loop;
	char *carrier;
	const struct dispatch_calls *calls;
	void *ctx;
	struct dispatch_times times;
	bool stopped;
	struct job *jobs;
};

static void check_state(const struct job *j)
{
	assert(j->state <= GONE);
	assert(j->state != ABANDONED || j->told || j->d->stopped);
	assert((j->state == GONE) == (j->proc.pidfd < 0));
}

struct dispatch *dispatch_new(uv_loop_t *loop, const char *carrier,
    const struct dispatch_calls *calls, void *ctx, const struct dispatch_times *times)
{
	struct dispatch *d = calloc(1, sizeof *d);

	if (!d)
		return NULL;
	d->carrier = strdup(carrier);
	if (!d->carrier) {
		free(d);
		return NULL;
	}
	d->loop = loop;
	d->calls = calls;
	d->ctx = ctx;
	d->times = times ? *times : (struct dispatch_times){5000, 2000, 3000};
	return d;
}

static struct job *find(const struct dispatch *d, const char *machine)
{
	struct job *j = d->jobs;

	while (j && (j->state == GONE || strcmp(j->order.machine, machine)))
		j = j->next;
	return j;
}

static void on_closed(uv_handle_t *h)
{
	struct job *j = h->data, **at;

	if (--j->handles)
		return;
	for (at = &j->d->jobs; *at != j; at = &(*at)->next)
		;
	*at = j->next;
	free(j);
}

/* The handle first: libuv forgets a descriptor by its number, which may be taken again as soon as
 * it is closed. */
static void close_sock(struct job *j)
{
	if (j->proc.sock < 0)
		return;
	uv_close((uv_handle_t *)&j->sock_poll, on_closed);
	close(j->proc.sock);
	j->proc.sock = -1;
}

/* Forget the process, reaped or not. */
static void close_pid(struct job *j)
{
	j->state = GONE;
	uv_close((uv_handle_t *)&j->pid_poll, on_closed);
	uv_close((uv_handle_t *)&j->timer, on_closed);
	close(j->proc.pidfd);
	j->proc.pidfd = -1;
}

static void tell(struct job *j, enum carry_error error, const char *text)
{
	if (j->told || j->d->stopped)
		return;
	j->told = true;
	if (!j->has_outcome)
		known_outcome(&j->known, &j->order, error, text, &j->outcome);
	j->d->calls->outcome(j->d->ctx, &j->order, &j->outcome);
}

static void on_timer(uv_timer_t *t);

/* The deadline of the state at hand; every message of a running carrier sets it anew. */
static void arm(struct job *j)
{
	const struct dispatch_times *t = &j->d->times;

	uint64_t quiet = j->order.act == CARRY_LISTEN && !j->hurry ? CARRY_LISTEN_HEARTBEAT_MS : 0;

	if (j->state == RUNNING)
		uv_timer_start(&j->timer, on_timer, quiet + t->silence, 0);
	else if (j->state == TERM || j->state == KILL)
		uv_timer_start(&j->timer, on_timer, j->state == TERM ? t->term : t->kill, 0);
	else
		uv_timer_stop(&j->timer);
}

/* Down the chain, never up. why: what made it necessary. */
static void enter(struct job *j, enum state to, const char *why)
{
	if (to <= j->state)
		return;
	if (!j->why)
		j->why = why;
	j->state = to;
	if (to == TERM || to == KILL)
		kill(j->proc.pid, to == TERM ? SIGTERM : SIGKILL);
	arm(j);
	if (to == ABANDONED) {
		tell(j, CARRY_ERROR_ABANDONED,
		    "the carrier could not be ended, its share or port hangs; the machine takes no "
		    "order until it is gone");
		if (j->d->stopped)
			close_pid(j);
	}
	check_state(j);
}

static bool take(struct job *j, int n);

/* A loop that stood still, as in a machine that was suspended, meets its timers before the messages
 * that came meanwhile: they count. */
static void on_timer(uv_timer_t *t)
{
	struct job *j = t->data;
	unsigned heard = j->heard;

	if (j->state == RUNNING) {
		take(j, MESSAGES_PER_TURN);
		if (j->state != RUNNING || j->heard != heard)
			return;
	}
	enter(j, j->state + 1, "the carrier was silent for too long and was ended");
}

static void on_step(struct job *j, const struct carry_step *step)
{
	struct dispatch *d = j->d;
	struct carry_go go = {step->step, step->item, 0};

	/* One that is being ended may still put things back, but begins nothing new. */
	bool may = j->state == RUNNING || (j->state == TERM && step->step == CARRY_STEP_PUT_BACK);

	if (may && d->calls->step(d->ctx, &j->order, step)) {
		go.allowed = 1;
		known_grant(&j->known, &j->order, step);
	}
	if (message_send(j->proc.sock, CARRY_GO, &go, NULL, 0, MSG_DONTWAIT))
		enter(j, TERM, "the carrier did not take an answer and was ended");
}

/* Whoever reads beyond the end of a file, or of one that is cut short meanwhile, is killed: memory
 * that comes from a carrier must be as long as it says, for good. */
static bool is_sealed(int fd, uint64_t size)
{
	const int need = F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW;
	int seals = fcntl(fd, F_GET_SEALS);
	struct stat st;

	return seals >= 0 && (seals & need) == need && !fstat(fd, &st) && S_ISREG(st.st_mode) &&
	       (uint64_t)st.st_size == size;
}

/* One checked message. False when it does not fit this order. */
static bool on_message(struct job *j, struct message *m)
{
	struct dispatch *d = j->d;
	uint32_t items = j->order.items;

	if (j->has_outcome)
		return false;
	switch (m->type) {
	case CARRY_PROGRESS:
		if (!known_item(&j->order, m->progress.item))
			return false;
		d->calls->progress(d->ctx, &j->order, &m->progress);
		return true;
	case CARRY_STEP:
		if (m->step.item > items)
			return false;
		on_step(j, &m->step);
		return true;
	case CARRY_CONTENT:
		if (!known_item(&j->order, m->content.item) ||
		    !is_sealed(m->fd[0], m->content.size))
			return false;
		m->fds = 0;
		d->calls->content(d->ctx, &j->order, &m->content, m->fd[0]);
		return true;
	case CARRY_OUTCOME:
		if (m->outcome.items != items)
			return false;
		j->outcome = m->outcome;
		j->has_outcome = true;
		return true;
	default:
		return false;
	}
}

/*
 * Take up to n messages; false when there are no more now. A message of a carrier that is being
 * ended still counts: it may be the outcome.
 */
static bool take(struct job *j, int n)
{
	static struct message m; /* large; one loop, one thread; callbacks never come back here */

	while (n-- > 0 && j->proc.sock >= 0) {
		int rc = message_receive(j->proc.sock, MESSAGE_FROM_CARRIER, &m, MSG_DONTWAIT);

		if (rc == -EAGAIN)
			return false;
		if (rc == 0 || (rc < 0 && rc != -EBADMSG)) {
			/* Its end is closed. With an outcome it may take its time to exit, without
			 * it may not. */
			close_sock(j);
			if (!j->has_outcome)
				enter(j, TERM,
				    "the carrier ended without saying what came of the order");
			return false;
		}
		if (rc > 0 && on_message(j, &m)) {
			j->heard++;
			if (j->state == RUNNING)
				arm(j);
		} else {
			enter(j, TERM,
			    "the carrier sent a message that is not allowed and was ended");
		}
		message_close(&m);
	}
	return j->proc.sock >= 0;
}

static void on_sock(uv_poll_t *p, int status, int events)
{
	struct job *j = p->data;

	if (status < 0)
		close_sock(j);
	else
		take(j, MESSAGES_PER_TURN);
}

/*
 * The process has ended: empty the socket, reap, tell, free the machine. The socket first, because
 * until it is reaped the process number is ours and a signal cannot meet a stranger.
 */
static void on_pid(uv_poll_t *p, int status, int events)
{
	struct job *j = p->data;
	struct dispatch *d = j->d;
	bool was_abandoned = j->state == ABANDONED;

	for (int turn = 0; turn < 64 && take(j, MESSAGES_PER_TURN); turn++)
		;
	if (j->state == GONE || waitpid(j->proc.pid, NULL, WNOHANG) == 0)
		return;
	close_sock(j);
	close_pid(j);
	check_state(j);
	tell(j, CARRY_ERROR_CARRIER,
	    j->why ? j->why : "the carrier ended without saying what came of the order");
	if (was_abandoned && !d->stopped)
		d->calls->freed(d->ctx, j->order.machine);
}

static int watch(struct job *j)
{
	struct dispatch *d = j->d;
	int rc;

	rc = uv_poll_init(d->loop, &j->sock_poll, j->proc.sock);
	if (rc)
		return rc;
	j->handles++;
	j->sock_poll.data = j->pid_poll.data = j->timer.data = j;
	rc = uv_poll_init(d->loop, &j->pid_poll, j->proc.pidfd);
	if (rc)
		return rc;
	j->handles++;
	uv_timer_init(d->loop, &j->timer);
	j->handles++;
	rc = uv_poll_start(&j->sock_poll, UV_READABLE, on_sock);
	if (!rc)
		rc = uv_poll_start(&j->pid_poll, UV_READABLE, on_pid);
	return rc;
}

/* Give up a start: the child has no order, and ends as soon as it is told so. */
static void undo(struct job *j)
{
	uv_handle_t *h[] = {
	    (uv_handle_t *)&j->sock_poll, (uv_handle_t *)&j->pid_poll, (uv_handle_t *)&j->timer};

	kill(j->proc.pid, SIGKILL);
	while (waitpid(j->proc.pid, NULL, 0) < 0 && errno == EINTR)
		;
	j->state = GONE;
	for (int i = 0; i < j->handles; i++)
		uv_close(h[i], on_closed);
	close(j->proc.pidfd);
	close(j->proc.sock);
	j->proc.pidfd = j->proc.sock = -1;
	if (!j->handles) {
		j->d->jobs = j->next;
		free(j);
	}
}

int dispatch_start(struct dispatch *d, const struct carry_order *order, const int *fd)
{
	struct job *j;
	int rc;

	if (d->stopped || find(d, order->machine))
		return -EBUSY;
	j = calloc(1, sizeof *j);
	if (!j)
		return -ENOMEM;
	j->d = d;
	j->order = *order;
	if (message_check(CARRY_ORDER, &j->order)) {
		free(j);
		return -EINVAL;
	}
	rc = launch_start(&j->proc, d->carrier);
	if (rc) {
		free(j);
		return rc;
	}
	j->next = d->jobs;
	d->jobs = j;
	rc = watch(j);
	if (!rc)
		rc = message_send(j->proc.sock, CARRY_ORDER, &j->order, fd,
		    carry_brings(order->act) ? order->items : 0, MSG_DONTWAIT);
	if (rc) {
		undo(j);
		return rc;
	}
	arm(j);
	return 0;
}

int dispatch_cancel(struct dispatch *d, const char *machine)
{
	struct job *j = find(d, machine);

	if (!j || j->told)
		return -ENOENT;
	if (j->hurry)
		return 0;
	if (j->proc.sock >= 0 && !j->has_outcome &&
	    message_send(j->proc.sock, CARRY_CANCEL, NULL, NULL, 0, MSG_DONTWAIT))
		enter(j, TERM, "the carrier did not take the word to cancel and was ended");
	j->hurry = j->order.act == CARRY_LISTEN;
	if (j->hurry && j->state == RUNNING)
		arm(j);
	return 0;
}

bool dispatch_busy(const struct dispatch *d, const char *machine)
{
	return find(d, machine) != NULL;
}

int dispatch_seal(const char *name, int (*fill)(void *ctx, int fd), void *ctx)
{
	int fd = memfd_create(name, MFD_CLOEXEC | MFD_ALLOW_SEALING), rc;

	if (fd < 0)
		return -errno;
	rc = fill(ctx, fd);
	if (rc) {
		rc = rc < 0 ? rc : -EIO;
		goto fail;
	}
	if (fcntl(fd, F_ADD_SEALS, F_SEAL_WRITE | F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL)) {
		rc = -errno;
		goto fail;
	}
	return fd;
fail:
	close(fd);
	return rc;
}

void dispatch_stop(struct dispatch *d)
{
	d->stopped = true;
	for (struct job *j = d->jobs; j; j = j->next) {
		/* A closed socket tells the carrier that nobody grants steps any more. */
		close_sock(j);
		if (j->state == ABANDONED)
			close_pid(j);
		else
			enter(j, TERM, "the service stops");
	}
}

void dispatch_free(struct dispatch *d)
{
	if (!d)
		return;
	assert(!d->jobs);
	free(d->carrier);
	free(d);
}
