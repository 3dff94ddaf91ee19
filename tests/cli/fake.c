#include "fake.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <cmocka.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

enum { ANSWERS = 80, SEEN = 200, THREADS = 200, HEAD_MAX = 16384, WAIT_MS = 20000, TICK_MS = 10 };

struct answer {
	char request[400];
	int status;
	const void *bytes;
	char *body; /* what bytes points to, when it is a copy */
	size_t n;
	const char *const *steps;
};

struct seen {
	char request[1200];
	char *body;
};

struct fake {
	char folder[300];
	int listener;
	pthread_t accepting, serving[THREADS];
	size_t threads;
	pthread_mutex_t lock;
	pthread_cond_t change;
	struct answer answer[ANSWERS];
	size_t answers;
	struct seen seen[SEEN];
	size_t requests;
};

struct connection {
	struct fake *fake;
	int fd;
};

static void put(int fd, const void *bytes, size_t n)
{
	const char *p = bytes;

	while (n > 0) {
		ssize_t done = send(fd, p, n, MSG_NOSIGNAL);

		if (done <= 0)
			return;
		p += done;
		n -= (size_t)done;
	}
}

/* Read a request; false when the other side says nothing. body is the caller's. */
static bool read_request(int fd, char *request, size_t max, char **body)
{
	char head[HEAD_MAX + 1];
	size_t n = 0, want = 0, have;
	char *end = NULL, *at, *target;

	while (!end && n < HEAD_MAX) {
		ssize_t got = recv(fd, head + n, HEAD_MAX - n, 0);

		if (got <= 0)
			return false;
		n += (size_t)got;
		head[n] = '\0';
		end = strstr(head, "\r\n\r\n");
	}
	at = strcasestr(head, "content-length:");
	if (at && at < end)
		want = strtoul(at + 15, NULL, 10);
	*body = calloc(1, want + 1);
	have = n - (size_t)(end + 4 - head);
	memcpy(*body, end + 4, have < want ? have : want);
	while (have < want) {
		ssize_t got = recv(fd, *body + have, want - have, 0);

		if (got <= 0)
			break;
		have += (size_t)got;
	}
	target = strchr(head, ' ');
	at = target ? strchr(target + 1, ' ') : NULL;
	snprintf(request, max, "%.*s", at ? (int)(at - head) : 0, head);
	return true;
}

/* Note what was asked, and find its answer. */
static struct answer note(struct fake *f, const char *request, char *body)
{
	struct answer a = {.status = 404, .bytes = "{\"error\":\"none\",\"text\":\"untold\"}"};

	a.n = strlen(a.bytes);
	pthread_mutex_lock(&f->lock);
	if (f->requests < SEEN) {
		snprintf(f->seen[f->requests].request, sizeof(f->seen[0].request), "%s", request);
		f->seen[f->requests++].body = body;
	} else {
		free(body);
	}
	for (size_t i = 0; i < f->answers; i++)
		if (!strcmp(f->answer[i].request, request))
			a = f->answer[i];
	pthread_cond_broadcast(&f->change);
	pthread_mutex_unlock(&f->lock);
	return a;
}

static bool was_seen(const struct fake *f, const char *request)
{
	for (size_t i = 0; i < f->requests; i++)
		if (!request || !strcmp(f->seen[i].request, request))
			return true;
	return false;
}

static void wait_seen(struct fake *f, const char *request)
{
	struct timespec until;

	clock_gettime(CLOCK_REALTIME, &until);
	until.tv_sec += WAIT_MS / 1000;
	pthread_mutex_lock(&f->lock);
	while (!was_seen(f, request) && !pthread_cond_timedwait(&f->change, &f->lock, &until))
		;
	pthread_mutex_unlock(&f->lock);
}

static void wait_gone(int fd)
{
	struct pollfd p = {.fd = fd, .events = POLLRDHUP};

	poll(&p, 1, WAIT_MS);
}

static void wait_wrote(const struct fake *f, const char *name)
{
	char path[400];
	struct stat st;

	snprintf(path, sizeof(path), "%s/%s", f->folder, name);
	for (int ms = 0; ms < WAIT_MS && (stat(path, &st) || !st.st_size); ms += TICK_MS)
		poll(NULL, 0, TICK_MS);
}

static void put_chunk(int fd, const char *s, const char *end)
{
	char size[32];

	snprintf(size, sizeof(size), "%zx\r\n", strlen(s) + strlen(end));
	put(fd, size, strlen(size));
	put(fd, s, strlen(s));
	put(fd, end, strlen(end));
	put(fd, "\r\n", 2);
}

static void put_again(int fd, const char *line)
{
	struct pollfd p = {.fd = fd, .events = POLLRDHUP};

	for (int ms = 0; ms < WAIT_MS && !poll(&p, 1, TICK_MS); ms += TICK_MS)
		put_chunk(fd, line, "\n");
}

static void put_stream(const struct connection *c, const char *const *steps)
{
	static const char head[] = "HTTP/1.1 200 OK\r\nContent-Type: application/x-ndjson\r\n"
	                           "Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n";
	struct ucred peer;
	socklen_t n = sizeof(peer);

	put(c->fd, head, sizeof(head) - 1);
	for (; *steps; steps++) {
		if (!strcmp(*steps, "!break"))
			return;
		if (!strcmp(*steps, "!gone"))
			wait_gone(c->fd);
		else if (!strcmp(*steps, "!again"))
			put_again(c->fd, steps[-2]);
		else if (!strncmp(*steps, "!wrote ", 7))
			wait_wrote(c->fake, *steps + 7);
		else if (!strncmp(*steps, "!seen ", 6))
			wait_seen(c->fake, *steps + 6);
		else if (!strcmp(*steps, "!interrupt")) {
			if (!getsockopt(c->fd, SOL_SOCKET, SO_PEERCRED, &peer, &n))
				kill(peer.pid, SIGINT);
		} else if (**steps == '+')
			put_chunk(c->fd, *steps + 1, "");
		else
			put_chunk(c->fd, *steps, "\n");
	}
	put(c->fd, "0\r\n\r\n", 5);
}

static void *serve(void *ctx)
{
	struct connection *c = ctx;
	char request[1200], head[256];
	char *body = NULL;
	struct answer a;

	if (!read_request(c->fd, request, sizeof(request), &body))
		goto out;
	a = note(c->fake, request, body);
	if (a.steps) {
		put_stream(c, a.steps);
	} else if (a.status) {
		snprintf(head, sizeof(head),
		    "HTTP/1.1 %d Told\r\nContent-Length: %zu\r\nConnection: close\r\n\r\n",
		    a.status, a.n);
		put(c->fd, head, strlen(head));
		put(c->fd, a.bytes, a.n);
	}
out:
	shutdown(c->fd, SHUT_RDWR);
	close(c->fd);
	free(c);
	return NULL;
}

static void *accept_all(void *ctx)
{
	struct fake *f = ctx;

	for (;;) {
		int fd = accept(f->listener, NULL, NULL);
		struct connection *c = calloc(1, sizeof(*c));

		if (fd < 0 || !c || f->threads == THREADS) {
			free(c);
			if (fd >= 0)
				close(fd);
			return NULL;
		}
		c->fake = f;
		c->fd = fd;
		if (!pthread_create(&f->serving[f->threads], NULL, serve, c))
			f->threads++;
	}
}

struct fake *fake_start(const char *folder)
{
	struct sockaddr_un at = {.sun_family = AF_UNIX};
	struct fake *f = calloc(1, sizeof(*f));

	assert_non_null(f);
	assert_true(snprintf(at.sun_path, sizeof(at.sun_path), "%s/yoke.sock", folder) <
	            (int)sizeof(at.sun_path));
	snprintf(f->folder, sizeof(f->folder), "%s", folder);
	pthread_mutex_init(&f->lock, NULL);
	pthread_cond_init(&f->change, NULL);
	f->listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_true(f->listener >= 0);
	assert_int_equal(bind(f->listener, (struct sockaddr *)&at, sizeof(at)), 0);
	assert_int_equal(listen(f->listener, 20), 0);
	assert_int_equal(pthread_create(&f->accepting, NULL, accept_all, f), 0);
	return f;
}

void fake_stop(struct fake *f)
{
	shutdown(f->listener, SHUT_RDWR);
	pthread_join(f->accepting, NULL);
	for (size_t i = 0; i < f->threads; i++)
		pthread_join(f->serving[i], NULL);
	close(f->listener);
	for (size_t i = 0; i < f->answers; i++)
		free(f->answer[i].body);
	for (size_t i = 0; i < f->requests; i++)
		free(f->seen[i].body);
	free(f);
}

static struct answer *tell(struct fake *f, const char *request)
{
	struct answer *a = &f->answer[f->answers];

	assert_true(f->answers < ANSWERS);
	snprintf(a->request, sizeof(a->request), "%s", request);
	return a;
}

void fake_answer(struct fake *f, const char *request, int status, const char *body)
{
	struct answer *a;

	pthread_mutex_lock(&f->lock);
	a = tell(f, request);
	a->status = status;
	a->bytes = a->body = strdup(body);
	a->n = strlen(body);
	f->answers++;
	pthread_mutex_unlock(&f->lock);
}

void fake_bytes(struct fake *f, const char *request, const void *bytes, size_t n)
{
	struct answer *a;

	pthread_mutex_lock(&f->lock);
	a = tell(f, request);
	a->status = 200;
	a->bytes = bytes;
	a->n = n;
	f->answers++;
	pthread_mutex_unlock(&f->lock);
}

void fake_stream(struct fake *f, const char *request, const char *const *steps)
{
	pthread_mutex_lock(&f->lock);
	tell(f, request)->steps = steps;
	f->answers++;
	pthread_mutex_unlock(&f->lock);
}

int fake_seen(struct fake *f, const char *request)
{
	int n = 0;

	pthread_mutex_lock(&f->lock);
	for (size_t i = 0; i < f->requests; i++)
		n += !request || !strcmp(f->seen[i].request, request);
	pthread_mutex_unlock(&f->lock);
	return n;
}

const char *fake_body(struct fake *f, const char *request)
{
	const char *body = "";

	pthread_mutex_lock(&f->lock);
	for (size_t i = 0; i < f->requests; i++)
		if (!strcmp(f->seen[i].request, request))
			body = f->seen[i].body;
	pthread_mutex_unlock(&f->lock);
	return body;
}

const char *fake_last(struct fake *f)
{
	const char *last;

	pthread_mutex_lock(&f->lock);
	last = f->requests ? f->seen[f->requests - 1].request : "";
	pthread_mutex_unlock(&f->lock);
	return last;
}
