#include "stream.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>
#include "port.h"
#include "stream_comport.h"
#include "tcp.h"

enum {
	AGAIN = 3,       /* times that a lost connection is made anew, one after the other */
	AGAIN_MS = 1000, /* before each */
	WATCH_MS = 1000, /* between two looks at a connection's health */
};

int stream_open(struct stream *s, const struct line_serial *line, uint32_t item, struct parent *p,
    struct fault *f)
{
	*s = (struct stream){.fd = -1};
	if (!strncmp(line->address, "rfc2217://", 10))
		return stream_comport_open(s, line, item, p, f);
	if (!strncmp(line->address, "tcp://", 6)) {
		s->fd = tcp_open(line, item, p, f);
		s->socket = true;
		return s->fd < 0 ? -1 : 0;
	}
	return port_open(s, line, item, f);
}

bool stream_again(struct stream *s, const struct line_serial *line, uint32_t item, struct parent *p,
    struct fault *f)
{
	struct stream_counts kept;

	stream_counts(s, &kept);
	stream_close(s, true);
	for (int i = 0; i < AGAIN; i++) {
		*f = (struct fault){0};
		parent_wait(p, -1, 0, AGAIN_MS);
		if (parent_stopping(p))
			break;
		if (!stream_open(s, line, item, p, f)) {
			s->kept = kept;
			return true;
		}
		if (f->error != CARRY_ERROR_OFFLINE)
			break;
	}
	*s = (struct stream){.fd = -1, .kept = kept};
	return false;
}

short stream_events(const struct stream *s, bool write)
{
	if (s->comport)
		return stream_comport_events(s, write);
	return (short)(POLLIN | (write ? POLLOUT : 0));
}

bool stream_at_once(const struct stream *s)
{
	return s->comport ? stream_comport_events(s, true) & ~stream_comport_events(s, false)
	                  : s->socket;
}

uint64_t stream_deadline(const struct stream *s)
{
	uint64_t watch = s->socket ? s->watch_at : UINT64_MAX, own;

	if (!s->comport)
		return watch;
	own = stream_comport_deadline(s);
	return own < watch ? own : watch;
}

bool stream_tick(struct stream *s)
{
	uint64_t now = parent_now();

	if (s->socket && now >= s->watch_at) {
		s->watch_at = now + WATCH_MS;
		if (tcp_dead(s->fd))
			return false;
	}
	return !s->comport || stream_comport_tick(s);
}

/*
 * Raw TCP, and the first that comes is IAC with WILL or DO (RFC 854): the port of the
 * server is one for telnet, which doubles and drops characters. The pair is no beginning of
 * anything that a control sends: FB and FD have no even parity, and FF no odd one.
 */
static bool is_telnet(struct stream *s, const unsigned char *bytes, size_t n)
{
	for (size_t i = 0; i < n && s->first < sizeof s->begin; i++)
		s->begin[s->first++] = bytes[i];
	s->speaks_telnet =
	    s->first == 2 && s->begin[0] == 255 && (s->begin[1] == 251 || s->begin[1] == 253);
	return s->speaks_telnet;
}

int stream_read(struct stream *s, short came, unsigned char *buffer, size_t size)
{
	bool ended = came & (POLLHUP | POLLERR | POLLNVAL);
	ssize_t n;

	if (s->comport && stream_comport_early(s, buffer, size, &n))
		return (int)n;
	if (!ended && !(came & POLLIN))
		return 0;
	n = read(s->fd, buffer, size);
	if (n > 0 && s->socket && !s->comport && is_telnet(s, buffer, (size_t)n))
		return -1;
	if (n > 0 && s->port)
		return (int)serial_mark_take(&s->marks, buffer, (size_t)n);
	if (n > 0)
		return s->comport ? stream_comport_feed(s, buffer, (size_t)n) : (int)n;
	/* Readable without a byte is the end of a connection, or a port that was unplugged. */
	return n < 0 && (errno == EAGAIN || errno == EINTR) && !ended ? 0 : -1;
}

int stream_write(struct stream *s, const unsigned char *bytes, size_t n)
{
	ssize_t done;

	if (s->comport)
		return stream_comport_write(s, bytes, n);
	do
		done = s->socket ? send(s->fd, bytes, n, MSG_NOSIGNAL) : write(s->fd, bytes, n);
	while (done < 0 && errno == EINTR);
	return done >= 0 ? (int)done : errno == EAGAIN ? 0 : -1;
}

long stream_queued(const struct stream *s)
{
	int n;

	/* The same request for sockets (SIOCOUTQ) and terminals. */
	if (ioctl(s->fd, TIOCOUTQ, &n))
		return -1;
	return s->comport ? n + stream_comport_queued(s) : n;
}

bool stream_has_sent(const struct stream *s)
{
	return s->port && port_has_sent(s->fd);
}

uint32_t stream_repeats(const struct stream *s)
{
	return s->socket ? tcp_repeats(s->fd) : 0;
}

void stream_counts_less(struct stream_counts *c, const struct stream_counts *before)
{
	c->frame -= before->frame;
	c->parity -= before->parity;
	c->overrun -= before->overrun;
	c->brk -= before->brk;
	c->marked -= before->marked;
}

uint64_t stream_counts_wrong(const struct stream_counts *c)
{
	uint64_t counted = (uint64_t)c->frame + c->parity;

	return counted > c->marked ? counted : c->marked;
}

uint64_t stream_counts_all(const struct stream_counts *c)
{
	return stream_counts_wrong(c) + c->overrun + c->brk;
}

/* A NUL that was wrong is marked like a break: where breaks are counted, that decides. */
static bool of_port(const struct stream *s, struct stream_counts *out)
{
	bool counts = port_counts(s->fd, out);

	if (counts)
		stream_counts_less(out, &s->before);
	else
		out->brk = s->marks.breaks;
	out->marked = s->marks.wrong;
	return true;
}

bool stream_counts(const struct stream *s, struct stream_counts *out)
{
	bool told;

	*out = (struct stream_counts){0};
	if (s->port)
		return of_port(s, out);
	told = s->comport && stream_comport_counts(s, out);
	out->frame += s->kept.frame;
	out->parity += s->kept.parity;
	out->overrun += s->kept.overrun;
	out->brk += s->kept.brk;
	return told;
}

uint64_t stream_line_errors(const struct stream *s)
{
	struct stream_counts c;

	stream_counts(s, &c);
	return stream_counts_all(&c);
}

bool stream_signals(const struct stream *s, struct stream_signals *out)
{
	if (s->comport)
		return stream_comport_signals(s, out);
	return s->port && port_signals(s->fd, out);
}

void stream_says(const struct stream *s, char *text, size_t size)
{
	if (size > 0)
		*text = '\0';
	if (s->comport)
		stream_comport_says(s, text, size);
	if (s->speaks_telnet)
		snprintf(text, size,
		    "the device server speaks telnet at this port: write rfc2217://, or switch "
		    "telnet off there");
	if (size > 0 && !*text && s->socket && s->fd >= 0 && tcp_dead(s->fd))
		snprintf(text, size,
		    "the network or the device server does not answer any more: nothing was "
		    "acknowledged for seconds");
}

void stream_close(struct stream *s, bool discard)
{
	const struct linger reset = {1, 0};

	if (s->comport)
		stream_comport_free(s);
	if (s->fd < 0)
		return;
	if (s->port) {
		port_close(s);
	} else {
		if (discard && s->socket)
			setsockopt(s->fd, SOL_SOCKET, SO_LINGER, &reset, sizeof reset);
		close(s->fd);
	}
	s->fd = -1;
}
