#include "bridge.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>
#include <cmocka.h>
#include "comport_server.h"
#include "fake_sys.h"

enum { MARK = 0xFF, BLIND = 10 };

static struct bridge {
	enum bridge_kind kind;
	struct bridge_fault fault;
	unsigned bench_port;
	int listener; /* for the carrier; -1 with a pseudo-terminal */
	int ours;     /* to the carrier */
	int slave;    /* of the pseudo-terminal, held so that it stays */
	int bench;
	char lines[300];    /* the file with the state of the port's lines, port_shim.c */
	char settings[300]; /* the file that is there when the port was set */
	struct server server;
	unsigned sent, back;
	bool text; /* the control's % has come: a copy */
	bool gone, off;
	pthread_t thread;
	atomic_bool ends;
} b;

static uint8_t with_parity(uint8_t c)
{
	c &= 0x7F;
	return (uint8_t)(c | (__builtin_popcount(c) % 2 ? 0x80 : 0));
}

static int listen_at(unsigned *port)
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof a;
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

	assert_true(fd >= 0);
	assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof a), 0);
	assert_int_equal(listen(fd, 4), 0);
	assert_int_equal(getsockname(fd, (struct sockaddr *)&a, &size), 0);
	*port = ntohs(a.sin_port);
	return fd;
}

/* -1 when the bench control is off. */
static int connect_bench(void)
{
	struct sockaddr_in a = {.sin_family = AF_INET,
	    .sin_port = htons((uint16_t)b.bench_port),
	    .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0), on = 1;

	if (fd >= 0 && connect(fd, (struct sockaddr *)&a, sizeof a)) {
		close(fd);
		return -1;
	}
	setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
	return fd;
}

static void put(int fd, const void *bytes, size_t n)
{
	if (fd >= 0 && send(fd, bytes, n, MSG_NOSIGNAL) < 0 && write(fd, bytes, n) < 0)
		b.gone = true;
}

/* The modem lines and the count of breaks. */
static void set_lines(const char *letters)
{
	char made[310];
	FILE *f;

	snprintf(made, sizeof made, "%s.new", b.lines);
	f = fopen(made, "we");
	if (!f || fputs(letters, f) < 0 || fclose(f) || rename(made, b.lines))
		b.gone = true;
}

static void tell_server(uint8_t command, uint8_t bits)
{
	server_says(&b.server, command, &bits, 1);
}

/* The control is off: DSR goes, and the port stays. NOTIFY-MODEMSTATE is 7, its CTS 16 and CD 128.
 */
static void control_is_off(void)
{
	close(b.bench);
	b.bench = -1;
	b.off = true;
	if (b.kind == BRIDGE_PORT)
		set_lines("cD");
	else
		tell_server(7, 16 | 128);
}

static void give_break(void)
{
	if (b.kind == BRIDGE_PORT)
		set_lines("cdDb");
	else
		tell_server(6, 16); /* NOTIFY-LINESTATE: break */
}

static void to_bench(const uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		uint8_t c = with_parity(bytes[i]);

		put(b.bench, &c, 1);
		b.sent++;
		if (b.sent == b.fault.break_sent)
			give_break();
		if (b.sent == b.fault.pull_sent)
			b.gone = true;
	}
}

/* A character of the control's as the UART has it. wrong: its parity; NOTIFY-LINESTATE calls
 * that 4. */
static void from_control(uint8_t byte, bool wrong)
{
	uint8_t c = byte & 0x7F, marked[] = {MARK, 0, c};

	if (wrong && b.fault.untold)
		return;
	if (b.kind == BRIDGE_COMPORT) {
		if (wrong)
			tell_server(6, 4);
		server_data(&b.server, &c, 1);
	} else if (wrong) {
		put(b.ours, marked, sizeof marked);
	} else {
		put(b.ours, &c, 1);
	}
}

static void from_bench(const uint8_t *bytes, size_t n)
{
	const struct bridge_fault *f = &b.fault;

	for (size_t i = 0; i < n && !b.gone; i++) {
		b.text = b.text || (bytes[i] & 0x7F) == '%';
		b.back += b.text;
		if (b.text && b.back == f->break_back)
			give_break();
		if (b.text && b.back == f->pull_back)
			b.gone = true;
		if (f->blind_back && b.back >= f->blind_back && b.back < f->blind_back + BLIND) {
			if (b.back == f->blind_back && b.kind == BRIDGE_COMPORT)
				tell_server(6, 2); /* overrun */
			if (b.back == f->blind_back && b.kind == BRIDGE_PORT)
				set_lines("cdDo");
			continue;
		}
		from_control(bytes[i], bytes[i] != with_parity(bytes[i]));
	}
}

/* What the carrier sent. False: it has gone. */
static bool hear_carrier(void)
{
	uint8_t in[256];
	ssize_t n = read(b.ours, in, sizeof in);

	if (n <= 0)
		return b.kind == BRIDGE_PORT;
	if (b.kind == BRIDGE_PORT) {
		to_bench(in, (size_t)n);
		return true;
	}
	server_feed(&b.server, in, (size_t)n);
	to_bench(b.server.line, b.server.line_n);
	b.server.line_n = 0;
	return true;
}

static void one_turn(void)
{
	struct pollfd q[2] = {{b.ours, POLLIN, 0}, {b.bench, POLLIN, 0}};
	uint8_t in[256];
	ssize_t n;

	if (poll(q, 2, 5) > 0 && (q[1].revents & (POLLIN | POLLHUP))) {
		n = read(b.bench, in, sizeof in);
		if (n > 0)
			from_bench(in, (size_t)n);
		else
			control_is_off();
	}
	if ((q[0].revents & (POLLIN | POLLHUP)) && !hear_carrier())
		b.gone = true;
	if (b.server.out_n) {
		put(b.ours, b.server.out, b.server.out_n);
		b.server.out_n = 0;
	}
}

/* The carrier has its port: what the control says before that is nobody's. */
static bool is_open(void)
{
	if (b.kind == BRIDGE_COMPORT)
		return b.server.purged == 3;
	if (access(b.settings, F_OK))
		return false;
	poll(NULL, 0, 100); /* it is emptied just then */
	return true;
}

static void *serve(void *arg)
{
	struct pollfd q = {b.listener, POLLIN, 0};

	while (b.listener >= 0 && b.ours < 0 && !b.ends)
		if (poll(&q, 1, 20) > 0)
			b.ours = accept4(b.listener, NULL, NULL, SOCK_CLOEXEC);
	while (!b.gone && !b.ends) {
		if (b.bench < 0 && !b.off && is_open())
			b.bench = connect_bench();
		one_turn();
	}
	if (b.gone && b.ours >= 0) {
		close(b.ours);
		b.ours = -1;
	}
	while (!b.ends)
		poll(NULL, 0, 5);
	return NULL;
}

static void open_port(struct rig *r)
{
	struct termios t;
	static char name[64];

	b.ours = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	assert_true(b.ours >= 0);
	assert_int_equal(grantpt(b.ours) | unlockpt(b.ours), 0);
	assert_int_equal(ptsname_r(b.ours, name, sizeof name), 0);
	b.slave = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC);
	assert_int_equal(tcgetattr(b.slave, &t), 0);
	cfmakeraw(&t);
	assert_int_equal(tcsetattr(b.slave, TCSANOW, &t), 0);
	snprintf(b.lines, sizeof b.lines, "%s", rig_path(r, "lines"));
	snprintf(b.settings, sizeof b.settings, "%s", rig_path(r, "settings"));
	set_lines("cdD");
	fake_sys_usb(rig_path(r, "sys"), "ttyS90", "1.2", "A1B2C3", 0);
	setenv("YOKE_TEST_SYS", rig_path(r, "sys"), 1);
	setenv("YOKE_TEST_PORT", name, 1);
	setenv("YOKE_TEST_PORT_LOG", b.settings, 1);
	setenv("YOKE_TEST_LINES", b.lines, 1);
	setenv("ASAN_OPTIONS", "verify_asan_link_order=0", 1);
	setenv("LD_PRELOAD", PORT_SHIM, 1);
}

void bridge_open(
    enum bridge_kind kind, unsigned bench_port, const struct bridge_fault *fault, struct rig *r)
{
	char *address = r->order.item[0].line.serial.address;
	unsigned port = bench_port;

	b = (struct bridge){.kind = kind,
	    .fault = *fault,
	    .bench_port = bench_port,
	    .listener = -1,
	    .ours = -1,
	    .slave = -1,
	    .bench = -1};
	server_init(&b.server, 0);
	if (kind == BRIDGE_COMPORT)
		b.listener = listen_at(&port);
	if (kind == BRIDGE_PORT)
		open_port(r);
	if (kind == BRIDGE_PORT)
		strcpy(address, "usb:A1B2C3");
	else
		sprintf(address, "%s://127.0.0.1:%u", kind == BRIDGE_RAW ? "tcp" : "rfc2217", port);
	if (kind != BRIDGE_RAW)
		assert_int_equal(pthread_create(&b.thread, NULL, serve, NULL), 0);
}

void bridge_close(void)
{
	int *const all[] = {&b.listener, &b.ours, &b.slave, &b.bench};

	b.ends = true;
	if (b.kind != BRIDGE_RAW)
		pthread_join(b.thread, NULL);
	unsetenv("LD_PRELOAD");
	unsetenv("YOKE_TEST_LINES");
	for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
		if (*all[i] >= 0)
			close(*all[i]);
		*all[i] = -1;
	}
}
