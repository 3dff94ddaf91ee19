#include "stream_comport.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>
#include "comport.h"
#include "tcp.h"

enum { EARLY = 256, SAYS = 200 };

struct stream_comport {
	struct comport *c;
	unsigned char early[EARLY]; /* characters that came right behind the last answer */
	size_t early_n;
	bool lost;
};

/* Give the connection what waits for it. False when it is lost. */
static bool push(struct stream *s)
{
	struct stream_comport *t = s->comport;
	const uint8_t *bytes;
	size_t n;

	for (;;) {
		ssize_t done;

		bytes = comport_pending(t->c, &n);
		if (n == 0)
			return true;
		done = send(s->fd, bytes, n, MSG_NOSIGNAL);
		if (done > 0)
			comport_gone(t->c, (size_t)done);
		else if (done < 0 && errno == EINTR)
			continue;
		else if (done < 0 && errno != EAGAIN)
			t->lost = true;
		if (done <= 0)
			return !t->lost;
	}
}

/* True when the state is final. */
static bool settled(const struct stream *s)
{
	struct comport_outcome o;

	comport_outcome(s->comport->c, &o);
	return o.state == COMPORT_OPEN || o.state == COMPORT_FAILED;
}

/* Talk until the port is open or has failed, the peer hangs up, or the time is over. */
static void talk(struct stream *s, uint64_t until, struct parent *p)
{
	struct stream_comport *t = s->comport;

	while (!settled(s) && !t->lost && parent_now() < until && !parent_stopping(p)) {
		uint64_t now = parent_now(), next = comport_deadline(t->c);
		int came;
		ssize_t n;

		if (!push(s))
			return;
		next = next < until ? next : until;
		came = parent_wait(
		    p, s->fd, stream_comport_events(s, false), next > now ? next - now : 0);
		if (came < 0)
			t->lost = true;
		if (came > 0 && (came & ~POLLOUT)) {
			n = read(s->fd, t->early, sizeof t->early);
			if (n > 0)
				t->early_n =
				    comport_feed(t->c, parent_now(), t->early, (size_t)n, t->early);
			t->lost |= n == 0 || (n < 0 && errno != EAGAIN && errno != EINTR);
		}
		comport_tick(t->c, parent_now());
	}
	push(s);
}

static enum carry_error error_of(enum comport_reason r)
{
	/* What another try may mend, and what only a setting can. */
	return r == COMPORT_OK || r == COMPORT_NO_ANSWER || r == COMPORT_GONE ? CARRY_ERROR_OFFLINE
	                                                                      : CARRY_ERROR_ORDER;
}

static int tell(const struct stream *s, const struct line_serial *line, uint32_t item,
    struct parent *p, struct fault *f)
{
	struct comport_outcome o;
	char text[SAYS];

	comport_outcome(s->comport->c, &o);
	comport_says(s->comport->c, text, sizeof text);
	if (o.state == COMPORT_OPEN)
		return 0;
	if (parent_stopping(p))
		return fault_set(f, CARRY_ERROR_CANCELLED, item, "cancelled");
	if (o.state == COMPORT_FAILED)
		return fault_set(f, error_of(o.reason), item, "%s: %s", line->address, text);
	if (s->comport->lost)
		return fault_set(f, CARRY_ERROR_OFFLINE, item,
		    "%s: the device server closed the line before it was set%s%s%s; is its port in "
		    "use?",
		    line->address, *o.said ? ", it said '" : "", o.said, *o.said ? "'" : "");
	return fault_set(f, CARRY_ERROR_OFFLINE, item,
	    "%s: the port was not set within %u ms: is RFC 2217 switched on there?", line->address,
	    line->open_ms);
}

int stream_comport_open(struct stream *s, const struct line_serial *line, uint32_t item,
    struct parent *p, struct fault *f)
{
	const struct comport_settings settings = comport_settings_of(line);
	uint64_t until = parent_now() + line->open_ms;

	s->fd = tcp_open(line, item, p, f);
	s->socket = true;
	if (s->fd < 0)
		return -1;
	s->comport = calloc(1, sizeof *s->comport);
	if (s->comport)
		s->comport->c = comport_new(&settings, parent_now());
	if (!s->comport || !s->comport->c) {
		fault_set(f, CARRY_ERROR_IO, item, "no memory to open %s", line->address);
		goto fail;
	}
	snprintf(s->name, sizeof s->name, "%.200s (RFC 2217, %u baud)", line->address, line->baud);
	talk(s, until, p);
	if (!tell(s, line, item, p, f))
		return 0;
fail:
	stream_close(s, true);
	return -1;
}

static bool suspended(const struct stream *s)
{
	struct comport_outcome o;

	comport_outcome(s->comport->c, &o);
	return o.suspended;
}

short stream_comport_events(const struct stream *s, bool write)
{
	size_t n;

	comport_pending(s->comport->c, &n);
	return (short)(POLLIN | (n > 0 || (write && !suspended(s)) ? POLLOUT : 0));
}

uint64_t stream_comport_deadline(const struct stream *s)
{
	return s->comport->early_n ? 0 : comport_deadline(s->comport->c);
}

/* False when it failed or the connection is lost. */
static bool well(const struct stream *s)
{
	struct comport_outcome o;

	comport_outcome(s->comport->c, &o);
	return o.state != COMPORT_FAILED && !s->comport->lost;
}

bool stream_comport_tick(struct stream *s)
{
	int below;

	/* While the network holds our question it is no fault of the server's that it is silent. */
	if (!ioctl(s->fd, TIOCOUTQ, &below) && below > 0)
		comport_waits(s->comport->c, parent_now());
	comport_tick(s->comport->c, parent_now());
	return push(s) && well(s);
}

int stream_comport_write(struct stream *s, const unsigned char *bytes, size_t n)
{
	size_t taken = comport_write(s->comport->c, bytes, n);

	return push(s) && well(s) ? (int)taken : -1;
}

bool stream_comport_early(struct stream *s, unsigned char *buffer, size_t size, ssize_t *n)
{
	struct stream_comport *t = s->comport;
	size_t some = t->early_n < size ? t->early_n : size;

	if (some == 0)
		return false;
	memcpy(buffer, t->early, some);
	t->early_n -= some;
	memmove(t->early, t->early + some, t->early_n);
	*n = (ssize_t)some;
	return true;
}

int stream_comport_feed(struct stream *s, unsigned char *buffer, size_t n)
{
	size_t got = comport_feed(s->comport->c, parent_now(), buffer, n, buffer);

	push(s);
	/* What came before the failure is still heard. */
	return got > 0 || well(s) ? (int)got : -1;
}

long stream_comport_queued(const struct stream *s)
{
	size_t n;

	comport_pending(s->comport->c, &n);
	return (long)n;
}

bool stream_comport_counts(const struct stream *s, struct stream_counts *out)
{
	struct comport_outcome o;

	comport_outcome(s->comport->c, &o);
	*out = (struct stream_counts){
	    .frame = o.framing, .parity = o.parity, .overrun = o.overrun, .brk = o.brk};
	/* A server that has not confirmed the mask may still tell. */
	return o.line_mask == COMPORT_LINE_ERRORS || stream_counts_all(out) > 0;
}

bool stream_comport_signals(const struct stream *s, struct stream_signals *out)
{
	struct comport_outcome o;

	comport_outcome(s->comport->c, &o);
	*out = (struct stream_signals){.cts = o.modem & COMPORT_MODEM_CTS,
	    .dsr = o.modem & COMPORT_MODEM_DSR,
	    .dcd = o.modem & COMPORT_MODEM_CD};
	return o.modem_known;
}

void stream_comport_says(const struct stream *s, char *text, size_t size)
{
	comport_says(s->comport->c, text, size);
}

void stream_comport_free(struct stream *s)
{
	comport_free(s->comport->c);
	free(s->comport);
	s->comport = NULL;
}
