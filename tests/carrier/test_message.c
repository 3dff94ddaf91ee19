/* Goal: what one side sends is what the other gets, and nothing that a broken or hostile side sends
 * is taken. */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <unistd.h>
#include <cmocka.h>
#include "message.h"

static int a, b; /* the two ends */
static struct message m;

static int set_up(void **state)
{
	int pair[2];

	if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair))
		return -1;
	a = pair[0];
	b = pair[1];
	return 0;
}

static int tear_down(void **state)
{
	close(a);
	close(b);
	return 0;
}

static int open_fds(void)
{
	int n = 0;

	for (int fd = 0; fd < 256; fd++)
		n += fcntl(fd, F_GETFD) >= 0;
	return n;
}

static struct carry_order an_order(enum carry_act act)
{
	struct carry_order o = {.id = 7, .act = act, .items = 2, .machine = "M1"};

	for (int i = 0; i < 2; i++) {
		strcpy(o.item[i].channel, i ? "lower" : "upper");
		strcpy(o.item[i].target, "4417.NC");
		o.item[i].line.kind = LINE_DIRECTORY;
		strcpy(o.item[i].line.directory.root, "/srv/share");
		o.item[i].size = 10;
		o.item[i].has_expect = true;
	}
	return o;
}

static void order_round_trip(void **state)
{
	struct carry_order o = an_order(CARRY_SEND);
	int fd[2] = {memfd_create("x", MFD_CLOEXEC), memfd_create("y", MFD_CLOEXEC)};

	assert_int_equal(message_send(a, CARRY_ORDER, &o, fd, 2, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_PARENT, &m, 0), 1);
	assert_int_equal(m.type, CARRY_ORDER);
	assert_memory_equal(&m.order, &o, sizeof o);
	assert_int_equal(m.fds, 2);
	assert_int_not_equal(m.fd[0], fd[0]);
	assert_int_equal(fcntl(m.fd[0], F_GETFD), FD_CLOEXEC);
	message_close(&m);
	assert_int_equal(m.fds, 0);
	close(fd[0]);
	close(fd[1]);
}

static void small_round_trips(void **state)
{
	struct carry_go go = {CARRY_STEP_REPLACE, 1, 1};
	struct carry_step step = {CARRY_STEP_TIDY, 2};
	struct carry_progress p = {1, CARRY_PHASE_HELD, 5, 10, 3, UINT64_MAX};
	struct carry_outcome o = {
	    .error = CARRY_ERROR_SPACE, .item = 2, .items = 2, .text = "full"};
	struct carry_content c = {.role = CARRY_ROLE_OLD, .size = 4, .sha = {{1}}};
	int fd = memfd_create("x", MFD_CLOEXEC);

	assert_int_equal(message_send(a, CARRY_GO, &go, NULL, 0, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_PARENT, &m, 0), 1);
	assert_memory_equal(&m.go, &go, sizeof go);
	assert_int_equal(message_send(a, CARRY_CANCEL, NULL, NULL, 0, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_PARENT, &m, 0), 1);
	assert_int_equal(m.type, CARRY_CANCEL);
	assert_int_equal(message_send(a, CARRY_STEP, &step, NULL, 0, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_CARRIER, &m, 0), 1);
	assert_memory_equal(&m.step, &step, sizeof step);
	assert_int_equal(message_send(a, CARRY_PROGRESS, &p, NULL, 0, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_CARRIER, &m, 0), 1);
	assert_memory_equal(&m.progress, &p, sizeof p);
	assert_int_equal(message_send(a, CARRY_OUTCOME, &o, NULL, 0, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_CARRIER, &m, 0), 1);
	assert_memory_equal(&m.outcome, &o, sizeof o);
	assert_int_equal(message_send(a, CARRY_CONTENT, &c, &fd, 1, 0), 0);
	assert_int_equal(message_receive(b, MESSAGE_FROM_CARRIER, &m, 0), 1);
	assert_memory_equal(&m.content, &c, sizeof c);
	assert_int_equal(m.fds, 1);
	message_close(&m);
	close(fd);
}

static void wrong_bodies_are_not_sent(void **state)
{
	struct carry_step step = {CARRY_STEP_COUNT, 0};
	struct carry_order o = an_order(CARRY_SEND);
	int fd = 0;

	assert_int_equal(message_send(a, CARRY_STEP, &step, NULL, 0, 0), -EBADMSG);
	assert_int_equal(message_send(a, CARRY_ORDER, &o, &fd, 1, 0),
	    -EBADMSG); /* two programs, one descriptor */
	assert_int_equal(message_send(a, 99, &o, NULL, 0, 0), -EBADMSG);
	assert_int_equal(message_receive(b, MESSAGE_FROM_PARENT, &m, MSG_DONTWAIT), -EAGAIN);
}

/* Send raw bytes with n descriptors, and take them as from the given side. */
static int raw(const void *bytes, size_t size, unsigned n, enum message_from from)
{
	union {
		char bytes[CMSG_SPACE(sizeof(int) * 16)];
		struct cmsghdr align;
	} control = {{0}};
	struct iovec iov = {(void *)bytes, size};
	struct msghdr msg = {.msg_iov = &iov, .msg_iovlen = 1};
	int before = open_fds(), rc;

	if (n) {
		msg.msg_control = control.bytes;
		msg.msg_controllen = CMSG_SPACE(sizeof(int) * n);
		struct cmsghdr *c = CMSG_FIRSTHDR(&msg);
		c->cmsg_level = SOL_SOCKET;
		c->cmsg_type = SCM_RIGHTS;
		c->cmsg_len = CMSG_LEN(sizeof(int) * n);
		for (unsigned i = 0; i < n; i++)
			memcpy(CMSG_DATA(c) + i * sizeof(int), &a, sizeof a);
	}
	assert_int_equal(sendmsg(a, &msg, MSG_NOSIGNAL), size);
	rc = message_receive(b, from, &m, MSG_DONTWAIT);
	message_close(&m);
	assert_int_equal(open_fds(), before); /* no descriptor stays */
	return rc;
}

struct packet {
	struct carry_header h;
	union {
		struct carry_order order;
		struct carry_outcome outcome;
		struct carry_progress progress;
		struct carry_content content;
		struct carry_go go;
		struct carry_step step;
		char bytes[sizeof(struct carry_order) + 64];
	};
};

static struct packet packet(enum carry_type type, size_t length)
{
	struct packet p;

	memset(&p, 0, sizeof p);
	p.h = (struct carry_header){CARRY_MAGIC, CARRY_VERSION, type, (uint32_t)length};
	return p;
}

static void wrong_headers(void **state)
{
	struct packet p = packet(CARRY_STEP, sizeof p.step);
	size_t size = sizeof p.h + sizeof p.step;

	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), 1);
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_PARENT), -EBADMSG); /* the wrong side */
	assert_int_equal(
	    raw(&p, size, 1, MESSAGE_FROM_CARRIER), -EBADMSG); /* a descriptor too many */
	assert_int_equal(raw(&p, size, 16, MESSAGE_FROM_CARRIER), -EBADMSG);
	assert_int_equal(raw(&p, size - 1, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	assert_int_equal(raw(&p, size + 1, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	assert_int_equal(
	    raw(&p, sizeof p, 0, MESSAGE_FROM_CARRIER), -EBADMSG); /* larger than any message */
	assert_int_equal(raw(&p, 3, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.h.length++;
	assert_int_equal(raw(&p, size + 1, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.h.length--;
	p.h.magic ^= 1;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.h.magic ^= 1;
	p.h.version++;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.h.version--;
	p.h.type = 0;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.h.type = UINT32_MAX;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
}

static int order_with(size_t at, unsigned char value)
{
	struct packet p = packet(CARRY_ORDER, sizeof p.order);

	p.order = an_order(CARRY_FETCH);
	p.order.item[0].line.kind = LINE_SERIAL;
	memset(&p.order.item[0].line.serial, 0, sizeof p.order.item[0].line.serial);
	p.bytes[at] = (char)value;
	return raw(&p, sizeof p.h + sizeof p.order, 0, MESSAGE_FROM_PARENT);
}

static void wrong_orders(void **state)
{
	const size_t item = offsetof(struct carry_order, item),
	             line = item + offsetof(struct carry_item, line);
	const size_t serial = line + offsetof(struct line, serial);

	assert_int_equal(order_with(offsetof(struct carry_order, act), CARRY_FETCH), 1);
	assert_int_equal(order_with(offsetof(struct carry_order, act), CARRY_DRIP + 1), -EBADMSG);
	assert_int_equal(order_with(offsetof(struct carry_order, items), 0), -EBADMSG);
	assert_int_equal(order_with(offsetof(struct carry_order, items), 5), -EBADMSG);
	assert_int_equal(order_with(line + offsetof(struct line, kind), LINE_STICK), -EBADMSG);
	assert_int_equal(order_with(line + offsetof(struct line, kind), LINE_REMOTE), 1);
	assert_int_equal(order_with(line + offsetof(struct line, kind), LINE_REMOTE + 1), -EBADMSG);
	assert_int_equal(order_with(item + offsetof(struct carry_item, has_expect), 2), -EBADMSG);
	assert_int_equal(order_with(line + offsetof(struct line, eob), 2), 1);
	assert_int_equal(order_with(line + offsetof(struct line, eob), 3), -EBADMSG);
	assert_int_equal(order_with(line + offsetof(struct line, upper_case), 2), -EBADMSG);
	assert_int_equal(order_with(line + offsetof(struct line, short_names), 2), -EBADMSG);
	assert_int_equal(order_with(item + offsetof(struct carry_item, size) + 7, 1), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, framing), 6), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, code), 3), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, eob), 3), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, read_back), 2), -EBADMSG);
	assert_int_equal(
	    order_with(serial + offsetof(struct line_serial, wait_dc1), 255), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, dc2_dc4), 2), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, drip), 2), 1);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, drip), 3), -EBADMSG);
	assert_int_equal(order_with(serial + offsetof(struct line_serial, patient), 2), -EBADMSG);
}

static void wrong_servers(void **state)
{
	struct packet p = packet(CARRY_ORDER, sizeof p.order);
	struct line_remote *r = &p.order.item[0].line.remote;
	const unsigned char two = 2;

	p.order = an_order(CARRY_FETCH);
	p.order.item[0].line.kind = LINE_REMOTE;
	memset(r, 'x', sizeof *r);
	r->tls = LINE_TLS_IMPLICIT;
	r->verify = true;
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.order, 0, MESSAGE_FROM_PARENT), 1);
	r = &m.order.item[0].line.remote;
	assert_int_equal(strlen(r->address), YOKE_PATH_MAX);
	assert_int_equal(strlen(r->root), YOKE_PATH_MAX);
	assert_int_equal(strlen(r->marker), YOKE_NAME_MAX);
	assert_int_equal(strlen(r->folder), YOKE_PATH_MAX);
	assert_int_equal(strlen(r->user), YOKE_NAME_MAX);
	assert_int_equal(strlen(r->password), YOKE_PATH_MAX);
	assert_int_equal(strlen(r->key), YOKE_PATH_MAX);
	assert_int_equal(strlen(r->pin), YOKE_NAME_MAX);
	assert_int_equal(strlen(r->ca), YOKE_PATH_MAX);
	assert_int_equal(strlen(r->known_hosts), YOKE_PATH_MAX);
	r = &p.order.item[0].line.remote;
	memcpy(&r->verify, &two, 1);
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.order, 0, MESSAGE_FROM_PARENT), -EBADMSG);
	r->verify = true;
	memcpy(&r->tls, &two, 1);
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.order, 0, MESSAGE_FROM_PARENT), -EBADMSG);
}

static void strings_end(void **state)
{
	struct packet p = packet(CARRY_ORDER, sizeof p.order);

	p.order = an_order(CARRY_FETCH);
	memset(p.order.machine, 'x', sizeof p.order.machine);
	memset(p.order.item[1].target, 'x', sizeof p.order.item[1].target);
	memset(
	    p.order.item[1].line.directory.root, 'x', sizeof p.order.item[1].line.directory.root);
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.order, 0, MESSAGE_FROM_PARENT), 1);
	assert_int_equal(strlen(m.order.machine), YOKE_NAME_MAX);
	assert_int_equal(strlen(m.order.item[1].target), YOKE_PATH_MAX);
	assert_int_equal(strlen(m.order.item[1].line.directory.root), YOKE_PATH_MAX);
}

static void wrong_reports(void **state)
{
	struct packet p = packet(CARRY_OUTCOME, sizeof p.outcome);
	size_t size = sizeof p.h + sizeof p.outcome;

	p.outcome.items = 2;
	memset(p.outcome.text, '\033', sizeof p.outcome.text);
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), 1);
	assert_int_equal(strlen(m.outcome.text), CARRY_TEXT_MAX);
	assert_int_equal(m.outcome.text[0], '?'); /* nothing that drives a terminal */
	p.outcome.channel[1].held = 6;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.outcome.channel[1].held = 0;
	p.outcome.item = 3;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.outcome.item = 0;
	p.outcome.error = CARRY_ERROR_COUNT;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p.outcome.error = 0;
	p.outcome.items = 1000;
	assert_int_equal(raw(&p, size, 0, MESSAGE_FROM_CARRIER), -EBADMSG);

	p = packet(CARRY_PROGRESS, sizeof p.progress);
	p.progress.phase = CARRY_PHASE_COUNT;
	assert_int_equal(
	    raw(&p, sizeof p.h + sizeof p.progress, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	p = packet(CARRY_CONTENT, sizeof p.content);
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.content, 0, MESSAGE_FROM_CARRIER), -EBADMSG);
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.content, 2, MESSAGE_FROM_CARRIER), -EBADMSG);
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.content, 1, MESSAGE_FROM_CARRIER), 1);
	p.content.size = YOKE_PROGRAM_MAX + 1;
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.content, 1, MESSAGE_FROM_CARRIER), -EBADMSG);
	p = packet(CARRY_GO, sizeof p.go);
	p.go.allowed = 2;
	assert_int_equal(raw(&p, sizeof p.h + sizeof p.go, 0, MESSAGE_FROM_PARENT), -EBADMSG);
}

/* Any bytes at all: never a crash, never a descriptor left (a fixed sequence, so that a failure can
 * be repeated). */
static void noise(void **state)
{
	struct packet p;
	uint32_t x = 1;

	for (int turn = 0; turn < 20000; turn++) {
		unsigned char *at = (unsigned char *)&p;
		size_t size;

		x = x * 1664525u + 1013904223u;
		p = packet(1 + (x >> 8) % 7, 0);
		size = sizeof p.h + (x >> 12) % sizeof p.bytes;
		p.h.length = (uint32_t)(size - sizeof p.h);
		for (int k = 0; k < 8; k++) {
			x = x * 1664525u + 1013904223u;
			at[sizeof p.h + (x >> 8) % sizeof p.bytes] = (unsigned char)(x >> 24);
		}
		raw(&p, size, (x >> 4) % 6, (x >> 3) & 1);
	}
}

static void end_of_the_other_side(void **state)
{
	struct carry_step step = {0, 0};

	shutdown(a, SHUT_RDWR);
	assert_int_equal(message_receive(b, MESSAGE_FROM_PARENT, &m, 0), 0);
	assert_int_equal(message_send(b, CARRY_STEP, &step, NULL, 0, 0), -EPIPE);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(order_round_trip),
	    T(small_round_trips),
	    T(wrong_bodies_are_not_sent),
	    T(wrong_headers),
	    T(wrong_orders),
	    T(wrong_servers),
	    T(strings_end),
	    T(wrong_reports),
	    T(noise),
	    T(end_of_the_other_side),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
