/* The operator's socket: lines in, answers out, waits that take their time. */
#include "operator.h"
#include "bench.h"
#include "commands.h"
#include "port.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

enum { LINE_MAX_BYTES = 2048 };

struct client {
	int fd; /* -1: free */
	char in[LINE_MAX_BYTES];
	size_t in_len;
	char *out; /* owned; out_at of out_len bytes are sent */
	size_t out_len, out_at;
	bool ends;    /* closed by the other side: answer, then close */
	bool waiting; /* for answer.wait */
	struct commands_answer answer;
	char *head, *lines; /* what the answer's files write to */
	size_t head_len, lines_len;
	uint64_t too_old; /* ns */
};

struct operator_desk {
	struct bench *bench;
	int listener;
	char *path; /* to remove at the end, or NULL */
	char address[128];
	bool quit;
	struct client clients[OPERATOR_CLIENTS];
};

static bool listen_path(struct operator_desk *o, const char *path)
{
	struct sockaddr_un a = {.sun_family = AF_UNIX};
	struct stat st;

	if (strlen(path) >= sizeof(a.sun_path)) {
		errno = ENAMETOOLONG;
		return false;
	}
	memcpy(a.sun_path, path, strlen(path) + 1);
	if (lstat(path, &st) == 0 && S_ISSOCK(st.st_mode))
		unlink(path);
	o->listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	if (o->listener < 0 || bind(o->listener, (struct sockaddr *)&a, sizeof(a)) < 0)
		return false;
	o->path = strdup(path);
	snprintf(o->address, sizeof(o->address), "%s", path);
	return o->path && listen(o->listener, 8) == 0;
}

struct operator_desk *operator_new(const char *where, struct bench *b)
{
	struct operator_desk *o = calloc(1, sizeof(*o));
	bool good;

	if (!o)
		return NULL;
	o->bench = b;
	o->listener = -1;
	for (size_t i = 0; i < OPERATOR_CLIENTS; i++)
		o->clients[i].fd = -1;
	if (where[0] && strspn(where, "0123456789") == strlen(where)) {
		uint16_t number = (uint16_t)strtoul(where, NULL, 10);

		o->listener = port_listen(&number);
		snprintf(o->address, sizeof(o->address), "127.0.0.1:%u", number);
		good = o->listener >= 0;
	} else {
		good = listen_path(o, where);
	}
	if (!good) {
		int saved = errno;

		operator_free(o);
		errno = saved;
		return NULL;
	}
	return o;
}

static void end_answer(struct client *c)
{
	if (c->answer.head)
		fclose(c->answer.head);
	if (c->answer.lines)
		fclose(c->answer.lines);
	free(c->head);
	free(c->lines);
	c->head = c->lines = NULL;
	c->answer = (struct commands_answer){0};
}

static void drop(struct client *c)
{
	end_answer(c);
	if (c->fd >= 0)
		close(c->fd);
	free(c->out);
	*c = (struct client){.fd = -1};
}

void operator_free(struct operator_desk *o)
{
	if (!o)
		return;
	for (size_t i = 0; i < OPERATOR_CLIENTS; i++)
		drop(&o->clients[i]);
	if (o->listener >= 0)
		close(o->listener);
	if (o->path)
		unlink(o->path);
	free(o->path);
	free(o);
}

const char *operator_address(const struct operator_desk *o)
{
	return o->address;
}

static bool has_line(const struct client *c)
{
	return memchr(c->in, '\n', c->in_len) != NULL;
}

static bool has_output(const struct client *c)
{
	return c->out_at < c->out_len;
}

void operator_polls(const struct operator_desk *o, struct pollfd *f)
{
	bool room = false;

	for (size_t i = 0; i < OPERATOR_CLIENTS; i++) {
		const struct client *c = &o->clients[i];

		room = room || c->fd < 0;
		f[i + 1] = (struct pollfd){.fd = c->fd};
		if (has_output(c))
			f[i + 1].events = POLLOUT;
		else if (!c->waiting && !c->ends)
			f[i + 1].events = POLLIN;
	}
	f[0] = (struct pollfd){.fd = room ? o->listener : -1, .events = POLLIN};
}

/* Puts the finished answer into the client's output, each of its lines with a blank in front. */
static void write_answer(struct client *c)
{
	bool error = c->answer.error;
	FILE *f;

	fclose(c->answer.head);
	fclose(c->answer.lines);
	c->answer.head = c->answer.lines = NULL;
	free(c->out);
	c->out = NULL;
	c->out_at = c->out_len = 0;
	f = open_memstream(&c->out, &c->out_len);
	if (f) {
		fprintf(f, "%s%s%s\n", error ? "error" : "ok", c->head_len ? " " : "", c->head);
		for (char *line = c->lines; *line;) {
			size_t len = strcspn(line, "\n");

			fprintf(f, " %.*s\n", (int)len, line);
			line += len + (line[len] == '\n');
		}
		fputc('\n', f);
		if (fclose(f) != 0)
			c->ends = true;
	} else {
		c->ends = true;
	}
	end_answer(c);
}

static bool begin_answer(struct client *c)
{
	c->answer = (struct commands_answer){0};
	c->answer.head = open_memstream(&c->head, &c->head_len);
	c->answer.lines = open_memstream(&c->lines, &c->lines_len);
	return c->answer.head && c->answer.lines;
}

/* Runs the first line of the input. */
static void run_line(struct operator_desk *o, struct client *c, uint64_t now)
{
	char line[LINE_MAX_BYTES];
	size_t len = (size_t)((char *)memchr(c->in, '\n', c->in_len) - c->in);

	memcpy(line, c->in, len);
	line[len] = '\0';
	c->in_len -= len + 1;
	memmove(c->in, c->in + len + 1, c->in_len);
	if (!begin_answer(c)) {
		drop(c);
		return;
	}
	commands_run(o->bench, line, &c->answer);
	o->quit = o->quit || c->answer.quit;
	if (c->answer.wait == COMMANDS_NONE || c->answer.error) {
		write_answer(c);
		return;
	}
	c->waiting = true;
	c->too_old = now + c->answer.seconds * 1000000000ULL;
}

static void look_at_wait(struct client *c, uint64_t now)
{
	if (!commands_fulfilled(&c->answer)) {
		if (now < c->too_old)
			return;
		c->answer.error = true;
		fputs("waited in vain", c->answer.head);
	}
	c->waiting = false;
	write_answer(c);
}

static void send_output(struct client *c)
{
	ssize_t n =
	    send(c->fd, c->out + c->out_at, c->out_len - c->out_at, MSG_NOSIGNAL | MSG_DONTWAIT);

	if (n > 0)
		c->out_at += (size_t)n;
	else if (n < 0 && errno != EAGAIN && errno != EINTR)
		drop(c);
}

static void receive(struct client *c)
{
	ssize_t n = recv(c->fd, c->in + c->in_len, sizeof(c->in) - c->in_len, MSG_DONTWAIT);

	if (n > 0)
		c->in_len += (size_t)n;
	else if (n == 0 || (errno != EAGAIN && errno != EINTR))
		c->ends = true;
	if (c->in_len == sizeof(c->in) && !has_line(c))
		c->ends = true; /* no command is that long */
}

static void serve(struct operator_desk *o, struct client *c, uint64_t now, short revents)
{
	if (revents & (POLLHUP | POLLERR) && !(revents & POLLIN)) {
		drop(c);
		return;
	}
	if (revents & POLLIN)
		receive(c);
	if (c->waiting)
		look_at_wait(c, now);
	while (c->fd >= 0 && !c->waiting && !has_output(c) && has_line(c)) {
		run_line(o, c, now);
		if (c->fd >= 0 && c->waiting)
			look_at_wait(c, now);
		if (c->fd >= 0 && has_output(c))
			send_output(c);
	}
	if (c->fd >= 0 && has_output(c))
		send_output(c);
	if (c->fd >= 0 && c->ends && !c->waiting && !has_output(c))
		drop(c);
}

static void welcome(struct operator_desk *o)
{
	int fd = accept4(o->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);

	for (size_t i = 0; fd >= 0 && i < OPERATOR_CLIENTS; i++)
		if (o->clients[i].fd < 0) {
			o->clients[i].fd = fd;
			return;
		}
	if (fd >= 0)
		close(fd);
}

void operator_step(struct operator_desk *o, uint64_t now, const struct pollfd *f)
{
	for (size_t i = 0; i < OPERATOR_CLIENTS; i++)
		if (o->clients[i].fd >= 0)
			serve(o, &o->clients[i], now, f[i + 1].revents);
	if (f[0].revents)
		welcome(o);
}

uint64_t operator_next(const struct operator_desk *o)
{
	uint64_t next = LINE_NEVER;

	for (size_t i = 0; i < OPERATOR_CLIENTS; i++)
		if (o->clients[i].waiting && o->clients[i].too_old < next)
			next = o->clients[i].too_old;
	return next;
}

bool operator_quits(const struct operator_desk *o)
{
	return o->quit;
}
