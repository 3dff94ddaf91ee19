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
	if (line->address[0] == '/')
		return port_open(s, line, item, f);
	return fault_set(f, CARRY_ERROR_ORDER, item,
	    "the address '%s' is neither tcp://HOST:PORT nor a device; change it in the machine's "
	    "settings",
	    line->address);
}

long stream_queued(const struct stream *s)
{
	int n;

	/* The same request for sockets (SIOCOUTQ) and terminals. */
	return ioctl(s->fd, TIOCOUTQ, &n) ? -1 : n;
}

uint64_t stream_line_errors(const struct stream *s)
{
	return s->port ? port_errors(s->fd) - s->errors_before : 0;
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
