/* Sockets of the bench control's lines. */
#include "port.h"
#include "bench.h"
#include "fault.h"
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/*
 * A device server holds little; a large socket buffer would take a whole program at once and hide
 * from the sender how slow the line is. The kernel doubles this.
 */
enum { PORT_RECEIVE_BUFFER = 4096 };

int port_listen(uint16_t *number)
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_port = htons(*number)};
	socklen_t len = sizeof(a);
	int one = 1, size = PORT_RECEIVE_BUFFER, saved;
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

	a.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	if (fd < 0)
		return -1;
	if (setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &one, sizeof(one)) < 0)
		goto fail;
	if (setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &size, sizeof(size)) < 0)
		goto fail;
	if (bind(fd, (struct sockaddr *)&a, sizeof(a)) < 0 || listen(fd, 8) < 0)
		goto fail;
	if (getsockname(fd, (struct sockaddr *)&a, &len) < 0)
		goto fail;
	*number = ntohs(a.sin_port);
	return fd;
fail:
	saved = errno;
	close(fd);
	errno = saved;
	return -1;
}

bool port_open(struct port *p)
{
	p->fd = -1;
	p->listener = port_listen(&p->number);
	return p->listener >= 0;
}

void port_hang_up(struct port *p)
{
	if (p->fd >= 0)
		close(p->fd);
	p->fd = -1;
	p->more = false;
	p->say_count = 0;
	p->pending_len = 0;
}

void port_shut(struct port *p)
{
	port_hang_up(p);
	if (p->listener >= 0)
		close(p->listener);
	p->listener = -1;
	p->online = false;
}

static bool punch_waits(const struct port *p)
{
	return p->punching && p->started && !p->host_stop;
}

static bool something_to_say(const struct port *p)
{
	return p->fd >= 0 && (p->pending_len || p->say_count || punch_waits(p));
}

void port_say(struct port *p, uint8_t byte)
{
	if (p->fd < 0 || p->say_count == BENCH_SAYS)
		return;
	if (!something_to_say(p) && p->out_at < p->now + p->char_ns)
		p->out_at = p->now + p->char_ns;
	p->says[p->say_count++] = byte;
}

static void flush_pending(struct port *p);

/* The punch ends here, with what has gone out so far. */
static void stop(struct port *p, enum fault_kind how)
{
	if (p->pending_len)
		flush_pending(p);
	if (how == FAULT_POWER)
		bench_power_off(p->bench);
	else
		bench_punched(p, false);
	if (how == FAULT_HANG_UP)
		port_hang_up(p);
}

static bool next_byte(struct port *p, uint8_t *byte)
{
	enum fault_kind how;

	if (p->say_count) {
		*byte = fault_spoil(p->bench, p->says[0]);
		memmove(p->says, p->says + 1, --p->say_count);
		return true;
	}
	if (!punch_waits(p) || p->tape_at == p->tape_len)
		return false;
	*byte = p->tape[p->tape_at++];
	switch (fault_in_punch(p, byte, &how)) {
	case FAULT_OUT_TWICE:
		port_say(p, *byte);
		break;
	case FAULT_OUT_LOST:
		return next_byte(p, byte);
	case FAULT_OUT_ENDS:
		p->tape_at--;
		stop(p, how);
		return false;
	case FAULT_OUT_ONCE:
		break;
	}
	*byte = fault_spoil(p->bench, *byte);
	return true;
}

static void flush_pending(struct port *p)
{
	ssize_t n = send(p->fd, p->pending, p->pending_len, MSG_NOSIGNAL | MSG_DONTWAIT);

	if (n < 0 && errno != EAGAIN && errno != EINTR) {
		p->pending_len = 0; /* the reading side will find the end of the connection */
		return;
	}
	if (n > 0) {
		p->pending_len -= (size_t)n;
		memmove(p->pending, p->pending + n, p->pending_len);
	}
}

static void send_due(struct port *p)
{
	/* Nothing is saved up while the line stood still. */
	if (p->out_at + p->char_ns * BENCH_PENDING < p->now)
		p->out_at = p->now;
	while (something_to_say(p) && p->out_at <= p->now) {
		while (p->pending_len < BENCH_PENDING && p->out_at <= p->now &&
		       next_byte(p, &p->pending[p->pending_len])) {
			p->pending_len++;
			p->out_at += p->char_ns;
		}
		if (p->pending_len)
			flush_pending(p);
		if (p->pending_len) {
			p->out_at = p->now + 10 * 1000 * 1000; /* nobody takes it: look again */
			return;
		}
		if (p->punching && p->started && p->tape_at == p->tape_len)
			bench_punched(p, true);
	}
}

/* Moves what the sender has written to the FIFO, and the line on. */
static void receive(struct port *p)
{
	uint8_t bytes[1024];

	for (;;) {
		size_t room;
		ssize_t n;

		line_advance(p->line, p->now);
		if (p->fd < 0)
			return;
		room = line_room(p->line);
		if (!room) {
			p->more = true;
			return;
		}
		n = recv(p->fd, bytes, room < sizeof(bytes) ? room : sizeof(bytes), MSG_DONTWAIT);
		if (n > 0) {
			line_feed(p->line, p->now, bytes, (size_t)n, p->more);
			p->more = true;
			continue;
		}
		p->more = false;
		if (n < 0 && (errno == EAGAIN || errno == EINTR))
			return;
		port_hang_up(p);
	}
}

static void welcome(struct port *p)
{
	int one = 1;
	int fd = accept4(p->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);

	if (fd < 0)
		return;
	(void)setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof(one));
	p->fd = fd;
	p->online = true;
	p->more = false;
	bench_connected(p);
}

/*
 * While one is connected the next one waits in the listening queue. With the FIFO full only the end
 * of the connection could be polled for; the pace wakes us before that matters, except while the
 * brake holds.
 */
struct pollfd port_pollfd(const struct port *p)
{
	struct pollfd f = {.fd = p->fd, .events = POLLIN};

	if (!p->online) {
		f.fd = p->listener;
	} else if (p->fd >= 0 && !line_room(p->line)) {
		if (line_quiet(p->line))
			f.events = POLLRDHUP;
		else
			f.fd = -1;
	}
	return f;
}

void port_step(struct port *p, uint64_t now, short revents)
{
	p->now = now;
	if (p->listener >= 0 && !p->online && revents)
		welcome(p);
	/* The sender went away while its characters were kept back: they never come. */
	if (p->fd >= 0 && !line_room(p->line) && line_quiet(p->line) &&
	    revents & (POLLRDHUP | POLLHUP | POLLERR))
		port_hang_up(p);
	receive(p);
	if (p->online && p->fd < 0 && line_settled(p->line)) {
		p->online = false;
		bench_lost(p);
	}
	bench_tick(p);
	if (p->fd >= 0)
		send_due(p);
}

uint64_t port_next(const struct port *p)
{
	uint64_t next = line_next(p->line);
	uint64_t task = bench_next(p);

	if (something_to_say(p) && p->out_at < next)
		next = p->out_at;
	return task < next ? task : next;
}
