/*
 * Plays many device servers at once, with the reader of a control behind each, to measure what
 * carries to them: one process, so that its own share of the processor can be told apart.
 *
 *     bench-servers LINES BAUD EVERY HOLD ORDERS UPPER LOWER
 *
 * Each of the LINES takes ORDERS orders, one connection each, and of each the two programs in turn:
 * the bytes of the files UPPER and LOWER with even parity, character by character, or the run ends
 * with status 1. A server takes what comes into a buffer that holds more than the reserve of any
 * machine here, and the line takes 11 bits' time for each character. A control asks (DC1) when all
 * lines are connected, spread over a second; later 300 ms after its program's last character or a
 * new connection. It stops the line (DC3) for HOLD ms after every EVERY characters, 0: never.
 *
 * Prints the lines' addresses and "ready"; at SIGUSR1 how often characters have come; "connected"
 * when all lines are; "sending" when something has come on all of them; "through" when the first
 * has all of its first order; in the end: programs and DC3s, median and longest milliseconds from
 * the DC1 that asked to the first character.
 */
#include <arpa/inet.h>
#include <errno.h>
#include <inttypes.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define NEVER UINT64_MAX
#define MS UINT64_C(1000000)

enum {
	DC1 = 0x11,
	DC3 = 0x93,
	BITS = 11,
	PROGRAMS = 2,
	PAUSE_MS = 300,
	SPREAD_MS = 1000,
	EVENTS = 64,
	TAIL = 1024, /* characters at a program's end without a DC3 */
};

struct text {
	uint8_t *bytes;
	size_t n;
};

struct line {
	int listener, fd;
	unsigned orders, programs; /* done: on this line, of the order at hand */
	size_t at;                 /* characters of the program at hand */
	size_t stop_at;            /* DC3 when so many have come */
	bool held;
	uint64_t dc1_at;   /* when the control says DC1 */
	uint64_t asked_at; /* the DC1 that asked for the program at hand; 0: its first character has
	                      come */
	uint64_t free_at;  /* what has come is off the wire */
};

struct bench {
	struct line *line;
	unsigned lines, orders;
	uint64_t char_ns, hold_ns;
	size_t every;
	struct text want[PROGRAMS];
	int events;
	unsigned connected, begun, through; /* lines in their first order */
	unsigned done;                      /* lines that have all orders */
	uint64_t holds, pieces;             /* DC3s; times that characters came */
	double *took;                       /* ms from DC1 to the first character */
	size_t takes;
};

static volatile sig_atomic_t asked;

static void on_usr1(int signal_number)
{
	asked = 1;
}

static uint64_t now_ns(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return (uint64_t)t.tv_sec * 1000 * MS + (uint64_t)t.tv_nsec;
}

static void say(const char *word)
{
	puts(word);
	fflush(stdout);
}

static int wrong(const char *what)
{
	fprintf(stderr, "bench-servers: %s: %s\n", what, strerror(errno));
	return -1;
}

static int watch(struct bench *b, unsigned i, bool listener)
{
	struct line *l = &b->line[i];
	struct epoll_event e = {
	    EPOLLIN | (listener ? EPOLLONESHOT : 0), {.u64 = 2 * (uint64_t)i + listener}};
	int fd = listener ? l->listener : l->fd;

	if (epoll_ctl(b->events, EPOLL_CTL_MOD, fd, &e) &&
	    (errno != ENOENT || epoll_ctl(b->events, EPOLL_CTL_ADD, fd, &e)))
		return wrong("epoll");
	return 0;
}

static int open_line(struct bench *b, unsigned i)
{
	struct sockaddr_in a = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	struct line *l = &b->line[i];
	socklen_t size = sizeof(a);

	*l = (struct line){.fd = -1, .dc1_at = NEVER};
	l->listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (l->listener < 0 || bind(l->listener, (struct sockaddr *)&a, size) ||
	    listen(l->listener, 1) || getsockname(l->listener, (struct sockaddr *)&a, &size))
		return wrong("a port");
	printf("line 127.0.0.1:%u\n", ntohs(a.sin_port));
	return watch(b, i, true);
}

static int welcome(struct bench *b, unsigned i, uint64_t now)
{
	struct line *l = &b->line[i];
	int on = 1;

	l->fd = accept4(l->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
	if (l->fd < 0 || setsockopt(l->fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof(on)) ||
	    watch(b, i, false))
		return wrong("a connection");
	l->programs = 0;
	l->at = 0;
	if (l->orders) {
		l->dc1_at = l->orders < b->orders ? now + PAUSE_MS * MS : NEVER;
		return 0;
	}
	if (++b->connected < b->lines)
		return 0;
	say("connected");
	for (unsigned k = 0; k < b->lines; k++)
		b->line[k].dc1_at = now + PAUSE_MS * MS + SPREAD_MS * MS * k / b->lines;
	return 0;
}

static int speak(struct line *l, uint8_t word)
{
	return send(l->fd, &word, 1, MSG_NOSIGNAL) == 1 ? 0 : wrong("DC1 or DC3");
}

static int say_dc1(struct bench *b, struct line *l, uint64_t now)
{
	l->held = false;
	l->dc1_at = NEVER;
	l->stop_at = b->every ? l->at + b->every : SIZE_MAX;
	if (!l->at)
		l->asked_at = now;
	return speak(l, DC1);
}

/* The program at hand has come: is another one, or another order, still to come? */
static void program_done(struct bench *b, struct line *l, uint64_t now)
{
	l->at = 0;
	l->held = false;
	if (++l->programs < PROGRAMS) {
		l->dc1_at = (l->free_at > now ? l->free_at : now) + PAUSE_MS * MS;
		return;
	}
	if (++l->orders == 1 && !b->through++)
		say("through");
}

static int take(struct bench *b, unsigned i, const uint8_t *bytes, size_t n, uint64_t now)
{
	struct line *l = &b->line[i];
	const struct text *want = &b->want[l->programs % PROGRAMS];

	if (l->programs == PROGRAMS || (!l->at && !l->asked_at) || n > want->n - l->at ||
	    memcmp(bytes, want->bytes + l->at, n)) {
		fprintf(stderr,
		    "bench-servers: line %u, program %u: what came behind %zu of %zu characters is "
		    "wrong\n",
		    i + 1, l->programs + 1, l->at, want->n);
		return -1;
	}
	if (l->asked_at) {
		b->took[b->takes++] = (double)(now - l->asked_at) / (double)MS;
		l->asked_at = 0;
		if (!l->orders && !l->programs && ++b->begun == b->lines)
			say("sending");
	}
	l->free_at = (l->free_at > now ? l->free_at : now) + n * b->char_ns;
	l->at += n;
	if (!l->held && l->at >= l->stop_at && want->n - l->at > TAIL) {
		l->held = true;
		l->dc1_at = now + b->hold_ns;
		b->holds++;
		if (speak(l, DC3))
			return -1;
	}
	if (l->at == want->n)
		program_done(b, l, now);
	return 0;
}

/* The carrier closes when it is done: that makes room for the next order's. */
static int hear(struct bench *b, unsigned i, uint64_t now)
{
	struct line *l = &b->line[i];
	uint8_t bytes[4096];
	ssize_t n = recv(l->fd, bytes, sizeof(bytes), 0);

	b->pieces += n > 0;
	if (n > 0)
		return take(b, i, bytes, (size_t)n, now);
	if (n < 0 && errno == EAGAIN)
		return 0;
	if (l->programs < PROGRAMS) {
		fprintf(stderr,
		    "bench-servers: line %u: lost in program %u behind %zu characters\n", i + 1,
		    l->programs + 1, l->at);
		return -1;
	}
	close(l->fd);
	l->fd = -1;
	b->done += l->orders == b->orders;
	return watch(b, i, true);
}

static int turn(struct bench *b)
{
	struct epoll_event e[EVENTS];
	uint64_t now = now_ns(), next = NEVER;
	int n;

	for (unsigned i = 0; i < b->lines; i++) {
		struct line *l = &b->line[i];

		if (l->dc1_at <= now && say_dc1(b, l, now))
			return -1;
		next = l->dc1_at < next ? l->dc1_at : next;
	}
	n = epoll_wait(
	    b->events, e, EVENTS, next == NEVER ? -1 : (int)((next - now + MS - 1) / MS));
	now = now_ns();
	if (asked) {
		printf("pieces %" PRIu64 "\n", b->pieces);
		fflush(stdout);
		asked = 0;
	}
	for (int k = 0; k < n; k++) {
		unsigned i = (unsigned)(e[k].data.u64 / 2);

		if (e[k].data.u64 % 2 ? welcome(b, i, now) : hear(b, i, now))
			return -1;
	}
	return n < 0 && errno != EINTR ? wrong("epoll") : 0;
}

static int load(struct text *t, const char *path)
{
	FILE *f = fopen(path, "rb");

	if (!f || fseek(f, 0, SEEK_END))
		return wrong(path);
	t->n = (size_t)ftell(f);
	rewind(f);
	t->bytes = malloc(t->n + 1);
	if (!t->bytes || fread(t->bytes, 1, t->n, f) != t->n)
		return wrong(path);
	fclose(f);
	for (size_t i = 0; i < t->n; i++)
		t->bytes[i] |= (uint8_t)(__builtin_parity(t->bytes[i]) << 7);
	return 0;
}

static int by_value(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

static int run(struct bench *b)
{
	b->events = epoll_create1(EPOLL_CLOEXEC);
	b->line = calloc(b->lines, sizeof(*b->line));
	b->took = calloc((size_t)b->lines * b->orders * PROGRAMS, sizeof(*b->took));
	if (b->events < 0 || !b->line || !b->took)
		return wrong("start");
	for (unsigned i = 0; i < b->lines; i++)
		if (open_line(b, i))
			return -1;
	say("ready");
	while (b->done < b->lines)
		if (turn(b))
			return -1;
	qsort(b->took, b->takes, sizeof(*b->took), by_value);
	printf("programs %zu\nholds %" PRIu64 "\nfirst-median %.2f\nfirst-worst %.2f\n", b->takes,
	    b->holds, b->took[b->takes / 2], b->took[b->takes - 1]);
	return 0;
}

static uint64_t number(const char *text)
{
	return strtoull(text, NULL, 10);
}

int main(int argc, char **argv)
{
	const struct sigaction usr1 = {.sa_handler = on_usr1};
	struct bench b = {0};

	sigaction(SIGUSR1, &usr1, NULL);
	if (argc != 8 || !number(argv[1]) || !number(argv[2]) || !number(argv[5])) {
		fprintf(stderr, "usage: bench-servers LINES BAUD EVERY HOLD ORDERS UPPER LOWER\n");
		return 2;
	}
	b.lines = (unsigned)number(argv[1]);
	b.char_ns = 1000 * MS * BITS / number(argv[2]);
	b.every = number(argv[3]);
	b.hold_ns = number(argv[4]) * MS;
	b.orders = (unsigned)number(argv[5]);
	return load(&b.want[0], argv[6]) || load(&b.want[1], argv[7]) || run(&b) ? 1 : 0;
}
