#include "desk.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>
#include <cmocka.h>

static void *run(void *arg)
{
	struct desk *d = arg;

	d->script(d);
	return NULL;
}

void desk_open(struct desk *d, void (*script)(struct desk *d))
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof a;

	memset(d, 0, sizeof *d);
	d->fd = -1;
	d->script = script;
	d->listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_true(d->listener >= 0);
	assert_int_equal(bind(d->listener, (struct sockaddr *)&a, sizeof a), 0);
	assert_int_equal(listen(d->listener, 4), 0);
	assert_int_equal(getsockname(d->listener, (struct sockaddr *)&a, &size), 0);
	d->port = ntohs(a.sin_port);
	assert_int_equal(pthread_create(&d->thread, NULL, run, d), 0);
}

void desk_open_port(struct desk *d, void (*script)(struct desk *d))
{
	struct termios t;

	memset(d, 0, sizeof *d);
	d->script = script;
	d->listener = -1;
	d->fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	assert_true(d->fd >= 0);
	assert_int_equal(grantpt(d->fd) | unlockpt(d->fd), 0);
	assert_int_equal(ptsname_r(d->fd, d->name, sizeof d->name), 0);
	/* Held open, so that the terminal stays while nobody else has it; as a port that was just
	 * found: flow control on. */
	d->slave = open(d->name, O_RDWR | O_NOCTTY | O_CLOEXEC);
	assert_true(d->slave >= 0);
	assert_int_equal(tcgetattr(d->slave, &t), 0);
	cfmakeraw(&t);
	t.c_iflag |= IXON | IXANY;
	assert_int_equal(tcsetattr(d->slave, TCSANOW, &t), 0);
	assert_int_equal(pthread_create(&d->thread, NULL, run, d), 0);
}

void desk_close(struct desk *d)
{
	if (d->listener >= 0)
		shutdown(
		    d->listener, SHUT_RDWR); /* wakes a script that still waits for a connection */
	pthread_join(d->thread, NULL);
	desk_hang_up(d);
	if (d->listener >= 0)
		close(d->listener);
	if (d->slave > 0)
		close(d->slave);
	assert_false(d->failed);
}

void desk_accept(struct desk *d)
{
	d->fd = accept4(d->listener, NULL, NULL, SOCK_CLOEXEC);
}

void desk_say(struct desk *d, const void *bytes, size_t n)
{
	if (write(d->fd, bytes, n) != (ssize_t)n)
		d->failed = true;
}

void desk_hang_up(struct desk *d)
{
	if (d->fd >= 0)
		close(d->fd);
	d->fd = -1;
}

static long now(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* One read until the time. False when nothing more comes. */
static bool hear_some(struct desk *d, size_t most, long until)
{
	struct pollfd q = {d->fd, POLLIN, 0};
	long left = until - now();
	ssize_t n;

	if (d->fd < 0 || left <= 0 || poll(&q, 1, (int)left) <= 0)
		return false;
	n = read(d->fd, d->heard + d->n, most < DESK_HEARD - d->n ? most : DESK_HEARD - d->n);
	if (n <= 0)
		return false;
	d->n += (size_t)n;
	return true;
}

bool desk_hear(struct desk *d, size_t n, int ms)
{
	long until = now() + ms;

	while (d->n - d->mark < n)
		if (!hear_some(d, n - (d->n - d->mark), until))
			return false;
	return true;
}

bool desk_hear_program(struct desk *d)
{
	long until = now() + 10000;
	size_t at = d->mark;
	int percents = 0;

	for (;;) {
		for (; at < d->n; at++)
			if ((d->heard[at] & 0x7f) == '%' && ++percents == 2)
				return true;
		if (!hear_some(d, 1, until)) {
			d->failed = true;
			return false;
		}
	}
}

size_t desk_hear_for(struct desk *d, int ms)
{
	long until = now() + ms;
	size_t before = d->n;

	while (now() < until && hear_some(d, DESK_HEARD, until))
		;
	return d->n - before;
}

const char *desk_text(struct desk *d)
{
	char *t = d->text[d->texts++ % 4];
	size_t k = 0;

	for (size_t i = d->mark; i < d->n && k < RIG_TEXT - 1; i++)
		if (d->heard[i] & 0x7f)
			t[k++] = (char)(d->heard[i] & 0x7f);
	t[k] = '\0';
	d->mark = d->n;
	return t;
}

void desk_line(const struct desk *d, struct rig *r, uint32_t i)
{
	struct line *l = &r->order.item[i].line;

	memset(l, 0, sizeof *l);
	l->kind = LINE_SERIAL;
	snprintf(l->serial.address, sizeof l->serial.address, "tcp://127.0.0.1:%d", d->port);
	l->serial.baud = 115200;
	l->serial.framing = LINE_7E2;
	l->serial.code = LINE_CODE_ISO;
	l->serial.wait_dc1 = true;
	l->serial.reserve = 64;
	l->serial.open_ms = 2000;
	l->serial.first_ms = 5000;
	l->serial.stall_ms = 3000;
	l->serial.read_back_ms = 2000;
	l->serial.silence_ms = 300;
}
