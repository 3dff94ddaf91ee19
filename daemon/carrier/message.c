#include "message.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Body length and side of each type; side -1: no such type. */
static int type_side(uint32_t type, size_t *length)
{
	switch (type) {
	case CARRY_ORDER:
		*length = sizeof(struct carry_order);
		return MESSAGE_FROM_PARENT;
	case CARRY_GO:
		*length = sizeof(struct carry_go);
		return MESSAGE_FROM_PARENT;
	case CARRY_CANCEL:
		*length = 0;
		return MESSAGE_FROM_PARENT;
	case CARRY_PROGRESS:
		*length = sizeof(struct carry_progress);
		return MESSAGE_FROM_CARRIER;
	case CARRY_STEP:
		*length = sizeof(struct carry_step);
		return MESSAGE_FROM_CARRIER;
	case CARRY_CONTENT:
		*length = sizeof(struct carry_content);
		return MESSAGE_FROM_CARRIER;
	case CARRY_OUTCOME:
		*length = sizeof(struct carry_outcome);
		return MESSAGE_FROM_CARRIER;
	}
	return -1;
}

/* End the string in its buffer and clear what follows, so that nothing uninitialised lies behind
 * it. */
static void end_string(char *s, size_t size)
{
	size_t n = strnlen(s, size - 1);

	memset(s + n, 0, size - n);
}

/* The same for a line that people read: without control characters. */
static void end_line(char *s, size_t size)
{
	end_string(s, size);
	for (; *s; s++)
		if ((unsigned char)*s < 0x20 || *s == 0x7f)
			*s = '?';
}

/* A bool from outside is looked at as a byte: any value but 0 and 1 must never be read as a bool.
 */
static bool is_bool(const void *at)
{
	return *(const unsigned char *)at <= 1;
}

/* An enum from outside, looked at as an unsigned number. */
static bool is_enum(const void *at, unsigned last)
{
	unsigned v;

	memcpy(&v, at, sizeof v);
	return v <= last;
}

static bool check_remote(struct line_remote *r)
{
	end_string(r->address, sizeof r->address);
	end_string(r->root, sizeof r->root);
	end_string(r->marker, sizeof r->marker);
	end_string(r->folder, sizeof r->folder);
	end_string(r->user, sizeof r->user);
	end_string(r->password, sizeof r->password);
	end_string(r->key, sizeof r->key);
	end_string(r->pin, sizeof r->pin);
	end_string(r->ca, sizeof r->ca);
	end_string(r->known_hosts, sizeof r->known_hosts);
	return is_enum(&r->tls, LINE_TLS_IMPLICIT) && is_bool(&r->verify);
}

static bool check_line(struct line *l)
{
	struct line_serial *s = &l->serial;

	_Static_assert(
	    sizeof(enum line_kind) == sizeof(unsigned), "enums are looked at as unsigned");
	end_string(l->name, sizeof l->name);
	if (!is_enum(&l->kind, LINE_REMOTE) || l->kind == LINE_STICK) /* a person carries that */
		return false;
	if (!is_enum(&l->eob, LINE_ENDS_CRLF) || !is_bool(&l->upper_case) || !is_bool(&l->short_names))
		return false;
	if (l->kind == LINE_REMOTE)
		return check_remote(&l->remote);
	if (l->kind == LINE_DIRECTORY) {
		end_string(l->directory.root, sizeof l->directory.root);
		end_string(l->directory.marker, sizeof l->directory.marker);
		end_string(l->directory.folder, sizeof l->directory.folder);
	}
	if (l->kind != LINE_SERIAL)
		return true;
	end_string(s->address, sizeof s->address);
	end_string(s->channel_word, sizeof s->channel_word);
	return is_enum(&s->framing, LINE_8E1) && is_enum(&s->code, LINE_CODE_EIA) &&
	       is_enum(&s->eob, LINE_EOB_LFCRCR) && is_enum(&s->read_back, LINE_READ_BACK_PUNCH) &&
	       is_enum(&s->flow, LINE_FLOW_NONE) && is_enum(&s->watch, LINE_WATCH_DCD) &&
	       is_enum(&s->drip, LINE_DRIP_WAITS) && is_bool(&s->patient) && is_bool(&s->wait_dc1) && is_bool(&s->dc2_dc4);
}

static bool check_running(struct running *r)
{
	end_string(r->file, sizeof r->file);
	end_string(r->agent, sizeof r->agent);
	end_string(r->device, sizeof r->device);
	for (size_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		end_string(r->path[i], sizeof r->path[i]);
	return is_enum(&r->kind, RUNNING_AGENT);
}

static bool check_order(struct carry_order *o)
{
	end_string(o->machine, sizeof o->machine);
	if (!check_running(&o->running))
		return false;
	if (o->act > CARRY_TRY || o->items < 1 || o->items > YOKE_CHANNELS_MAX)
		return false;
	if (o->act == CARRY_DRIP && o->items != 1)
		return false;
	for (size_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		end_string(o->word[i].channel, sizeof o->word[i].channel);
		end_string(o->word[i].word, sizeof o->word[i].word);
	}
	for (uint32_t i = 0; i < o->items; i++) {
		struct carry_item *it = &o->item[i];

		end_string(it->channel, sizeof it->channel);
		end_string(it->target, sizeof it->target);
		if (!check_line(&it->line) || !is_bool(&it->has_expect) ||
		    !is_bool(&it->asked) || it->size > YOKE_PROGRAM_MAX)
			return false;
	}
	return true;
}

static bool check_outcome(struct carry_outcome *o)
{
	end_line(o->text, sizeof o->text);
	if (o->error >= CARRY_ERROR_COUNT || o->items > YOKE_CHANNELS_MAX || o->item > o->items)
		return false;
	for (uint32_t i = 0; i < o->items; i++) {
		const struct carry_channel *c = &o->channel[i];

		if (c->held > CARRY_HELD_STUMP || c->compared > 1 || c->has_sha > 1 ||
		    c->asked > 1)
			return false;
	}
	return true;
}

static bool check_step(uint32_t step, uint32_t item)
{
	return step < CARRY_STEP_COUNT && item <= YOKE_CHANNELS_MAX;
}

int message_check(enum carry_type type, void *body)
{
	bool good = false;

	switch (type) {
	case CARRY_ORDER:
		good = check_order(body);
		break;
	case CARRY_GO: {
		const struct carry_go *g = body;
		good = check_step(g->step, g->item) && g->allowed <= 1;
		break;
	}
	case CARRY_CANCEL:
		good = true;
		break;
	case CARRY_PROGRESS: {
		const struct carry_progress *p = body;
		good = p->item < YOKE_CHANNELS_MAX && p->phase < CARRY_PHASE_COUNT;
		break;
	}
	case CARRY_STEP: {
		const struct carry_step *s = body;
		good = check_step(s->step, s->item);
		break;
	}
	case CARRY_CONTENT: {
		struct carry_content *c = body;
		end_line(c->note, sizeof c->note);
		good = c->item < YOKE_CHANNELS_MAX && c->role <= CARRY_ROLE_MORE &&
		       c->size <= YOKE_PROGRAM_MAX;
		break;
	}
	case CARRY_OUTCOME:
		good = check_outcome(body);
		break;
	}
	return good ? 0 : -EBADMSG;
}

/* How many descriptors must come with a checked body. */
static unsigned fds_due(enum carry_type type, const void *body)
{
	const struct carry_order *o = body;

	if (type == CARRY_CONTENT)
		return 1;
	return type == CARRY_ORDER && carry_brings(o->act) ? o->items : 0;
}

union control {
	char bytes[CMSG_SPACE(sizeof(int) * YOKE_CHANNELS_MAX)];
	struct cmsghdr align;
};

int message_send(
    int sock, enum carry_type type, const void *body, const int *fd, unsigned fds, int flags)
{
	struct carry_header h = {CARRY_MAGIC, CARRY_VERSION, type, 0};
	union control control = {{0}};
	struct message m; /* checking may write */
	size_t length = 0;
	ssize_t n;

	if (type_side(type, &length) < 0 || fds > YOKE_CHANNELS_MAX)
		return -EBADMSG;
	if (length)
		memcpy(&m.order, body, length);
	if (message_check(type, &m.order) || fds_due(type, &m.order) != fds)
		return -EBADMSG;
	h.length = (uint32_t)length;

	struct iovec iov[2] = {{&h, sizeof h}, {&m.order, length}};
	struct msghdr msg = {.msg_iov = iov, .msg_iovlen = length ? 2 : 1};

	if (fds) {
		msg.msg_control = control.bytes;
		msg.msg_controllen = CMSG_SPACE(sizeof(int) * fds);
		struct cmsghdr *c = CMSG_FIRSTHDR(&msg);
		c->cmsg_level = SOL_SOCKET;
		c->cmsg_type = SCM_RIGHTS;
		c->cmsg_len = CMSG_LEN(sizeof(int) * fds);
		memcpy(CMSG_DATA(c), fd, sizeof(int) * fds);
	}
	do
		n = sendmsg(sock, &msg, MSG_NOSIGNAL | flags);
	while (n < 0 && errno == EINTR);
	if (n < 0)
		return -errno;
	return (size_t)n == sizeof h + length ? 0 : -EIO;
}

/* Take the descriptors out of the control data; those beyond the room of m are closed. */
static void take_fds(struct msghdr *msg, struct message *m)
{
	for (struct cmsghdr *c = CMSG_FIRSTHDR(msg); c; c = CMSG_NXTHDR(msg, c)) {
		if (c->cmsg_level != SOL_SOCKET || c->cmsg_type != SCM_RIGHTS)
			continue;
		size_t n = (c->cmsg_len - CMSG_LEN(0)) / sizeof(int);
		for (size_t i = 0; i < n; i++) {
			int fd;

			memcpy(&fd, CMSG_DATA(c) + i * sizeof fd, sizeof fd);
			if (m->fds < YOKE_CHANNELS_MAX)
				m->fd[m->fds++] = fd;
			else
				close(fd);
		}
	}
}

int message_receive(int sock, enum message_from from, struct message *m, int flags)
{
	struct carry_header h;
	union control control;
	struct iovec iov[2] = {{&h, sizeof h}, {&m->order, sizeof m->order}};
	struct msghdr msg = {.msg_iov = iov,
	    .msg_iovlen = 2,
	    .msg_control = control.bytes,
	    .msg_controllen = sizeof control.bytes};
	size_t length = 0;
	ssize_t n;

	_Static_assert(sizeof m->order >= sizeof m->outcome, "the order is the longest body");
	m->fds = 0; /* all else of a message that is let through is filled; it is long */
	do
		n = recvmsg(sock, &msg, MSG_CMSG_CLOEXEC | flags);
	while (n < 0 && errno == EINTR);
	if (n < 0)
		return errno == ECONNRESET ? 0 : -errno;
	take_fds(&msg, m);
	if (n == 0 && !m->fds)
		return 0;
	if ((msg.msg_flags & (MSG_TRUNC | MSG_CTRUNC)) || (size_t)n < sizeof h ||
	    h.magic != CARRY_MAGIC || h.version != CARRY_VERSION ||
	    type_side(h.type, &length) != (int)from || h.length != length ||
	    (size_t)n != sizeof h + length)
		goto bad;
	m->type = h.type;
	if (message_check(m->type, &m->order) || fds_due(m->type, &m->order) != m->fds)
		goto bad;
	return 1;
bad:
	message_close(m);
	return -EBADMSG;
}

void message_close(struct message *m)
{
	while (m->fds)
		close(m->fd[--m->fds]);
}
