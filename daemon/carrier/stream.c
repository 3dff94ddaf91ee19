#include "stream.h"

#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>
#include "port.h"
#include "tcp.h"

int stream_open(struct stream *s, const struct line_serial *line, uint32_t item, struct parent *p,
    struct fault *f)
{
	*s = (struct stream){.fd = -1};
	if (!strncmp(line->address, "tcp://", 6)) {
		s->fd = tcp_open(line, item, p, f);
		s->socket = true;
		return s->fd < 0 ? -1 : 0;
	}
	return port_open(s, line, item, f);
}

long stream_queued(const struct stream *s)
{
	int n;

	/* The same request for sockets (SIOCOUTQ) and terminals. */
	return ioctl(s->fd, TIOCOUTQ, &n) ? -1 : n;
}

bool stream_counts(const struct stream *s, struct stream_counts *out)
{
	*out = (struct stream_counts){0};
	if (!s->port || !port_counts(s->fd, out))
		return false;
	out->frame -= s->before.frame;
	out->parity -= s->before.parity;
	out->overrun -= s->before.overrun;
	out->brk -= s->before.brk;
	return true;
}

uint64_t stream_line_errors(const struct stream *s)
{
	struct stream_counts c;

	stream_counts(s, &c);
	return (uint64_t)c.frame + c.parity + c.overrun + c.brk;
}

bool stream_signals(const struct stream *s, struct stream_signals *out)
{
	return s->port && port_signals(s->fd, out);
}

void stream_close(struct stream *s, bool discard)
{
	const struct linger reset = {1, 0};

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
