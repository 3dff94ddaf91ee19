#include "tcp.h"

#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum {
	SEND_BUFFER = 2048, /* bytes; the kernel doubles it and has a least of its own */
	LOOK_UP_TURN = 20,  /* ms between two looks at a name look-up */
	KEEP_IDLE = 4,      /* seconds of silence before the peer is probed */
	KEEP_EVERY = 2,     /* seconds between probes */
	KEEP_COUNT = 3,
	DEAD_MS = 8000,   /* without any acknowledgement, while something waits for one */
	DEAD_REPEATS = 2, /* repetitions or probes that nobody answered */
};

bool tcp_split(const char *address, char host[YOKE_PATH_MAX + 1], char port[6])
{
	const char *from = strstr(address, "://"), *colon = strrchr(address, ':');
	size_t n, digits;

	if (strncmp(address, "tcp://", 6) != 0 && strncmp(address, "rfc2217://", 10) != 0)
		return false;
	from += 3;
	if (colon <= from)
		return false;
	n = (size_t)(colon - from);
	digits = strspn(colon + 1, "0123456789");
	if (digits < 1 || digits > 5 || colon[1 + digits])
		return false;
	memcpy(port, colon + 1, digits + 1);
	if (*from == '[' && from[n - 1] == ']') {
		from++;
		n -= 2;
	}
	if (n < 1 || n > YOKE_PATH_MAX)
		return false;
	memcpy(host, from, n);
	host[n] = '\0';
	return true;
}

/*
 * Look the name up without standing still: glibc does it in a thread of its own, and the carrier
 * goes on giving signs of life. 0, or a code of gai_strerror.
 */
static int look_up(
    const char *host, const char *port, uint64_t until, struct parent *p, struct addrinfo **found)
{
	const struct addrinfo hints = {.ai_socktype = SOCK_STREAM};
	struct gaicb ask = {.ar_name = host, .ar_service = port, .ar_request = &hints},
	             *list[1] = {&ask};
	struct sigevent none = {.sigev_notify = SIGEV_NONE};
	int rc = getaddrinfo_a(GAI_NOWAIT, list, 1, &none);

	while (!rc && gai_error(&ask) == EAI_INPROGRESS) {
		bool give_up = parent_stopping(p) || parent_now() >= until;

		/* One that cannot be called off uses our memory: it is waited for, its own time
		 * limit is short. */
		if (give_up && gai_cancel(&ask) != EAI_NOTCANCELED)
			break;
		poll(NULL, 0, LOOK_UP_TURN);
		parent_tick(p);
	}
	if (!rc)
		rc = gai_error(&ask);
	*found = rc ? NULL : ask.ar_result;
	return rc;
}

/*
 * 0, or a negative errno. Before the connection: the buffer's size decides the window. Not
 * TCP_USER_TIMEOUT: the kernel applies it to a window that is closed too, where the peer answers
 * and only the control holds it, and in place of the count of the probes.
 */
static int set_options(int fd)
{
	int on = 1, send = SEND_BUFFER, idle = KEEP_IDLE, every = KEEP_EVERY, count = KEEP_COUNT;

	if (setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on) ||
	    setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &send, sizeof send) ||
	    setsockopt(fd, SOL_SOCKET, SO_KEEPALIVE, &on, sizeof on) ||
	    setsockopt(fd, IPPROTO_TCP, TCP_KEEPIDLE, &idle, sizeof idle) ||
	    setsockopt(fd, IPPROTO_TCP, TCP_KEEPINTVL, &every, sizeof every) ||
	    setsockopt(fd, IPPROTO_TCP, TCP_KEEPCNT, &count, sizeof count))
		return -errno;
	return 0;
}

uint32_t tcp_repeats(int fd)
{
	struct tcp_info t;
	socklen_t size = sizeof t;

	return getsockopt(fd, IPPROTO_TCP, TCP_INFO, &t, &size) ? 0 : t.tcpi_total_retrans;
}

bool tcp_dead(int fd)
{
	struct tcp_info t;
	socklen_t size = sizeof t;

	if (getsockopt(fd, IPPROTO_TCP, TCP_INFO, &t, &size))
		return false;
	return t.tcpi_retransmits + t.tcpi_probes >= DEAD_REPEATS &&
	       t.tcpi_last_ack_recv >= DEAD_MS;
}

/* Try one address. The descriptor, or a negative errno. */
static int connect_one(const struct addrinfo *a, uint64_t until, struct parent *p)
{
	int fd = socket(a->ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0), rc, error = 0;
	socklen_t size = sizeof error;
	uint64_t now = parent_now();

	if (fd < 0)
		return -errno;
	rc = set_options(fd);
	if (rc)
		goto fail;
	if (connect(fd, a->ai_addr, a->ai_addrlen) && errno != EINPROGRESS) {
		rc = -errno;
		goto fail;
	}
	rc = parent_wait(p, fd, POLLOUT, now < until ? until - now : 0);
	if (rc <= 0) {
		rc = rc ? rc : parent_stopping(p) ? -ECANCELED : -ETIMEDOUT;
		goto fail;
	}
	if (getsockopt(fd, SOL_SOCKET, SO_ERROR, &error, &size))
		error = errno;
	if (!error)
		return fd;
	rc = -error;
fail:
	close(fd);
	return rc;
}

int tcp_open(const struct line_serial *line, uint32_t item, struct parent *p, struct fault *f)
{
	uint64_t until = parent_now() + line->open_ms;
	char host[YOKE_PATH_MAX + 1], port[6];
	struct addrinfo *all = NULL;
	int fd = -EADDRNOTAVAIL, rc;

	if (!tcp_split(line->address, host, port))
		return fault_set(f, CARRY_ERROR_ORDER, item,
		    "the address '%s' is not tcp://HOST:PORT or rfc2217://HOST:PORT",
		    line->address);
	rc = look_up(host, port, until, p, &all);
	if (rc && parent_stopping(p))
		return fault_set(f, CARRY_ERROR_CANCELLED, item, "cancelled");
	if (rc)
		return fault_set(f, CARRY_ERROR_OFFLINE, item,
		    "the device server '%s' is not known: %s", host, gai_strerror(rc));
	for (const struct addrinfo *a = all; a && fd < 0 && fd != -ECANCELED; a = a->ai_next)
		fd = connect_one(a, until, p);
	freeaddrinfo(all);
	if (fd >= 0)
		return fd;
	if (fd == -ECANCELED)
		return fault_set(f, CARRY_ERROR_CANCELLED, item, "cancelled");
	return fault_set(f, CARRY_ERROR_OFFLINE, item,
	    "the device server at %s does not answer (%s): is it on, and is its port free?",
	    line->address, strerror(-fd));
}
