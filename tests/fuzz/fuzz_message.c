/*
 * Goal: no packet on a carrier's socket trips its reader: it is refused and its descriptors are
 * closed, or it is a message whose strings end, whose check holds a second time, and that can be
 * sent on.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include "input.h"
#include "message.h"

/* A header and the longest body, with room for one byte too many. */
struct packet {
	struct carry_header header;
	unsigned char body[sizeof(struct carry_order) + 1];
};

static int ends[2] = {-1, -1};
static int nowhere = -1;

static void open_once(void)
{
	if (nowhere >= 0)
		return;
	nowhere = open("/dev/null", O_RDONLY | O_CLOEXEC);
	must(nowhere >= 0);
	must(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, 0, ends) == 0);
}

static size_t length_of(uint32_t type)
{
	static const size_t length[] = {[CARRY_ORDER] = sizeof(struct carry_order),
	    [CARRY_GO] = sizeof(struct carry_go),
	    [CARRY_PROGRESS] = sizeof(struct carry_progress),
	    [CARRY_STEP] = sizeof(struct carry_step),
	    [CARRY_CONTENT] = sizeof(struct carry_content),
	    [CARRY_OUTCOME] = sizeof(struct carry_outcome)};

	return type < sizeof(length) / sizeof(length[0]) ? length[type] : 0;
}

/* Bodies are long and mostly zero: the input says what stands where. Returns the packet's size. */
static size_t fill(struct packet *p, struct input *in)
{
	uint8_t bits = input_byte(in);
	uint32_t type = input_byte(in) % 9;
	size_t length = length_of(type);

	memset(p, 0, sizeof(*p));
	p->header = (struct carry_header){CARRY_MAGIC, CARRY_VERSION, type, (uint32_t)length};
	if (bits & 1)
		p->header.length ^= input_number(in);
	if (bits & 2)
		p->header.magic ^= input_number(in);
	if (bits & 4)
		p->header.version ^= input_number(in);
	while (in->left > 0) {
		size_t at = ((size_t)input_byte(in) << 8 | input_byte(in)) % (length + 1);
		uint8_t n = input_byte(in) % 16;

		while (n-- > 0 && at < length)
			p->body[at++] = input_byte(in);
	}
	if (bits & 8)
		return bits & 16 ? sizeof(p->header) + length + 1 : sizeof(p->header) / 2;
	return sizeof(p->header) + length;
}

static void send_packet(const struct packet *p, size_t n, unsigned fds)
{
	union {
		char bytes[CMSG_SPACE(sizeof(int) * 8)];
		struct cmsghdr align;
	} control = {{0}};
	struct iovec iov = {(void *)p, n};
	struct msghdr msg = {.msg_iov = &iov, .msg_iovlen = 1};

	if (fds > 0) {
		struct cmsghdr *c;
		int fd[8];

		for (unsigned i = 0; i < fds; i++)
			fd[i] = nowhere;
		msg.msg_control = control.bytes;
		msg.msg_controllen = CMSG_SPACE(sizeof(int) * fds);
		c = CMSG_FIRSTHDR(&msg);
		c->cmsg_level = SOL_SOCKET;
		c->cmsg_type = SCM_RIGHTS;
		c->cmsg_len = CMSG_LEN(sizeof(int) * fds);
		memcpy(CMSG_DATA(c), fd, sizeof(int) * fds);
	}
	must(sendmsg(ends[0], &msg, MSG_NOSIGNAL) == (ssize_t)n);
}

static void check_strings(const struct message *m)
{
	if (m->type == CARRY_ORDER) {
		must(memchr(m->order.machine, 0, sizeof(m->order.machine)) != NULL);
		must(m->order.items >= 1 && m->order.items <= YOKE_CHANNELS_MAX);
		for (uint32_t i = 0; i < m->order.items; i++) {
			const struct carry_item *it = &m->order.item[i];

			must(memchr(it->channel, 0, sizeof(it->channel)) != NULL);
			must(memchr(it->target, 0, sizeof(it->target)) != NULL);
		}
	}
	if (m->type == CARRY_OUTCOME)
		must(memchr(m->outcome.text, 0, sizeof(m->outcome.text)) != NULL &&
		     m->outcome.item <= m->outcome.items);
}

static int first_free(void)
{
	int fd = dup(nowhere);

	must(fd >= 0);
	close(fd);
	return fd;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct packet packet;
	static struct message m, again;
	struct input in = {data, size};
	enum message_from from;
	int before, got;
	unsigned fds;
	size_t n;

	open_once();
	before = first_free();
	from = input_byte(&in) & 1 ? MESSAGE_FROM_PARENT : MESSAGE_FROM_CARRIER;
	fds = input_byte(&in) % 7;
	n = fill(&packet, &in);
	send_packet(&packet, n, fds);
	got = message_receive(ends[1], from, &m, 0);
	must(got == 1 || got == -EBADMSG);
	if (got == 1) {
		must(m.fds == fds);
		check_strings(&m);
		must(message_check(m.type, &m.order) == 0);
		must(message_send(ends[0], m.type, &m.order, m.fd, m.fds, 0) == 0);
		must(message_receive(ends[1], from, &again, 0) == 1);
		must(again.type == m.type && again.fds == m.fds);
		must(memcmp(&again.order, &m.order, length_of(m.type)) == 0);
		message_close(&again);
		message_close(&m);
	}
	must(first_free() == before);
	return 0;
}
