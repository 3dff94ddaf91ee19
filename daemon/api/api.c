/*
 * libmicrohttpd runs inside the loop: its epoll descriptor is polled, its time-outs are a timer.
 *
 *   request --headers--> ctx made --body, in pieces--> whole --verb's function--> answered |
 * streamed
 */
#include "api.h"

#include <errno.h>
#include <microhttpd.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include "listen.h"
#include "route.h"
#include "stream.h"

enum { BODY_MAX = 65536, CONNECTIONS = 256, IDLE_S = 60, QUERY_MAX = 1024 };

struct api {
	uv_loop_t *loop;
	struct MHD_Daemon *daemon;
	struct stream_list streams;
	uv_poll_t poll;
	uv_timer_t due, life;
	bool handles;
	api_fn *const *fn;
	void *service;
	const struct api_take *take; /* for the verbs whose body is bytes */
	char *path; /* of the socket that we made */
};

/* One request while it comes in: a small body in memory, or bytes handed on as they come. */
struct incoming {
	char *body;
	size_t n;
	bool too_long;
	bool bytes;
	void *taken;
	uint64_t taken_n;
};

void api_reply_error(
    struct api_reply *r, unsigned status, const char *name, const char *format, ...)
{
	char text[2048];
	va_list ap;

	va_start(ap, format);
	vsnprintf(text, sizeof(text), format, ap);
	va_end(ap);
	json_decref(r->body);
	r->status = status;
	r->body = json_pack("{s:s, s:s}", "error", name, "text", text);
	if (!r->body) /* the text is not UTF-8 */
		r->body = json_pack("{s:s, s:s}", "error", name, "text", "see the service's log");
}

static void on_due(uv_timer_t *t);

static void run_daemon(struct api *a)
{
	MHD_UNSIGNED_LONG_LONG ms;

	MHD_run(a->daemon);
	if (MHD_get_timeout(a->daemon, &ms) == MHD_YES)
		uv_timer_start(&a->due, on_due, ms, 0);
}

static void on_due(uv_timer_t *t)
{
	run_daemon(t->data);
}

static void on_ready(uv_poll_t *p, int status, int events)
{
	run_daemon(p->data);
}

/* Let the daemon run in the next turn: never from within one of its own callbacks. */
static void soon(struct api *a)
{
	uv_timer_start(&a->due, on_due, 0, 0);
}

static void on_life(uv_timer_t *t)
{
	struct api *a = t->data;

	if (stream_life(&a->streams))
		soon(a);
}

/* The supplementary groups of the other side. False: the kernel does not say, or memory ran out. */
static bool peer_groups(int fd, struct api_who *who)
{
	socklen_t n = 0;
	gid_t *all;

	who->group = NULL;
	who->groups = 0;
	/* Too little room is told together with how much is needed; none at all is no error. */
	if (!getsockopt(fd, SOL_SOCKET, SO_PEERGROUPS, NULL, &n))
		return true;
	if (errno != ERANGE || !n)
		return false;
	all = malloc(n);
	if (!all || getsockopt(fd, SOL_SOCKET, SO_PEERGROUPS, all, &n)) {
		free(all);
		return false;
	}
	who->group = all;
	who->groups = n / sizeof(*all);
	return true;
}

/* 0 and *who, of which the groups are to be freed; -1. */
static int who_asks(struct MHD_Connection *connection, struct api_who *who)
{
	const union MHD_ConnectionInfo *info =
	    MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
	struct ucred cred;
	socklen_t n = sizeof(cred);

	memset(who, 0, sizeof(*who));
	if (!info || getsockopt(info->connect_fd, SOL_SOCKET, SO_PEERCRED, &cred, &n) ||
	    !peer_groups(info->connect_fd, who))
		return -1;
	who->uid = cred.uid;
	who->gid = cred.gid;
	who->pid = cred.pid;
	return 0;
}

struct query {
	json_t *o;
	bool bad;
};

static enum MHD_Result add_query(
    void *ctx, enum MHD_ValueKind kind, const char *key, const char *value)
{
	struct query *q = ctx;
	char k[QUERY_MAX + 1], v[QUERY_MAX + 1];

	if (!value)
		value = "";
	if (route_decode(key, strlen(key), 1, k, QUERY_MAX) ||
	    route_decode(value, strlen(value), 1, v, QUERY_MAX) || json_object_get(q->o, k) ||
	    json_object_set_new(q->o, k, json_string(v)))
		q->bad = true;
	return q->bad ? MHD_NO : MHD_YES;
}

/* Everything up to the verb's function, and its call. */
static void answer(struct api *a, struct MHD_Connection *connection, const char *method,
    const char *path, const struct incoming *in, struct api_reply *reply)
{
	struct api_who who = {0};
	struct route route;
	struct query query = {.o = json_object()};
	json_t *body = NULL;
	json_error_t where;
	struct api_call call = {.who = &who, .from = "socket"};

	if (in->too_long) {
		api_reply_error(reply, 413, "too-long", "a %s may have at most %llu bytes",
		    in->bytes ? "program" : "request's body",
		    in->bytes ? YOKE_PROGRAM_MAX : BODY_MAX);
		goto out;
	}
	if (who_asks(connection, &who)) {
		api_reply_error(
		    reply, 403, "who", "the kernel does not say who asks: use the Unix socket");
		goto out;
	}
	switch (route_find(method, path, &route)) {
	case ROUTE_FOUND:
		break;
	case ROUTE_NO_PATH:
		api_reply_error(reply, 404, "no-path", "%s is not a path of this API", path);
		goto out;
	case ROUTE_NO_METHOD:
		api_reply_error(reply, 405, "no-method", "%s does not go with %s", method, path);
		goto out;
	case ROUTE_BAD:
		api_reply_error(reply, 400, "path",
		    "the path holds something that is no text: control characters, not UTF-8, "
		    "wrong percent-encoding, or too long");
		goto out;
	}
	MHD_get_connection_values(connection, MHD_GET_ARGUMENT_KIND, add_query, &query);
	if (query.bad) {
		api_reply_error(reply, 400, "query",
		    "the query holds something that is no text, or one key twice");
		goto out;
	}
	body = in->n ? json_loadb(in->body, in->n, JSON_REJECT_DUPLICATES, &where) : json_object();
	if (!json_is_object(body)) {
		api_reply_error(reply, 400, "body", "the body is no JSON object%s%s",
		    body ? "" : ": ", body ? "" : where.text);
		goto out;
	}
	call.verb = route.verb;
	call.taken = in->taken;
	for (size_t i = 0; i < route.values; i++)
		call.path[i] = route.value[i];
	call.query = query.o;
	call.body = body;
	a->fn[route.verb](a->service, &call, reply);
	if (!reply->body && !reply->bytes && !reply->stream)
		api_reply_error(
		    reply, 500, "memory", "memory ran out while the answer was made: try again");
out:
	json_decref(query.o);
	json_decref(body);
	free((gid_t *)who.group);
}

static enum MHD_Result reply_queue(
    struct api *a, struct MHD_Connection *connection, struct api_reply *reply)
{
	struct MHD_Response *r = NULL;
	const char *type = "application/json";
	enum MHD_Result queued = MHD_NO;
	char *text;

	if (reply->stream) {
		r = stream_response(&a->streams, connection, reply->topic);
		type = "application/x-ndjson";
	} else if (reply->bytes) {
		r = MHD_create_response_from_buffer(reply->n, reply->bytes, MHD_RESPMEM_MUST_FREE);
		if (r)
			reply->bytes = NULL;
		type = reply->type ? reply->type : "application/octet-stream";
	} else {
		text = json_dumps(reply->body, JSON_COMPACT);
		if (text)
			r = MHD_create_response_from_buffer(
			    strlen(text), text, MHD_RESPMEM_MUST_FREE);
		if (!r)
			free(text);
	}
	if (r && MHD_add_response_header(r, "Content-Type", type) == MHD_YES)
		queued = MHD_queue_response(connection, reply->status ? reply->status : 200, r);
	if (r)
		MHD_destroy_response(r);
	json_decref(reply->body);
	free(reply->bytes);
	return queued;
}

/* Whether bytes are taken from whoever is behind this connection. */
static bool may_take(const struct api *a, struct MHD_Connection *connection)
{
	struct api_who who;
	bool may;

	if (who_asks(connection, &who))
		return false;
	may = a->take->may(a->service, &who);
	free((gid_t *)who.group);
	return may;
}

static struct incoming *incoming_new(const struct api *a, struct MHD_Connection *connection,
    const char *method, const char *path)
{
	struct incoming *in = calloc(1, sizeof(*in));
	struct route route;

	if (!in || !a->take || route_find(method, path, &route) != ROUTE_FOUND ||
	    route.verb != API_PROGRAM_KEEP)
		return in;
	in->bytes = true;
	if (!may_take(a, connection))
		return in;
	in->taken = a->take->begin(a->service);
	if (in->taken)
		return in;
	free(in);
	return NULL;
}

/* More of the body. What is too long is read to its end, and answered then. */
static void take(const struct api *a, struct incoming *in, const char *bytes, size_t n)
{
	char *more;

	if (in->too_long)
		return;
	if (in->bytes) {
		in->too_long = n > YOKE_PROGRAM_MAX - in->taken_n;
		in->taken_n += n;
		if (!in->too_long && in->taken)
			a->take->add(in->taken, bytes, n);
		return;
	}
	more = in->n + n > BODY_MAX ? NULL : realloc(in->body, in->n + n);
	if (!more) {
		in->too_long = true;
		return;
	}
	in->body = more;
	memcpy(in->body + in->n, bytes, n);
	in->n += n;
}

static enum MHD_Result on_request(void *ctx, struct MHD_Connection *connection, const char *path,
    const char *method, const char *version, const char *bytes, size_t *n, void **request)
{
	struct api *a = ctx;
	struct incoming *in = *request;
	struct api_reply reply = {0};

	if (!in) {
		*request = incoming_new(a, connection, method, path);
		return *request ? MHD_YES : MHD_NO;
	}
	if (*n) {
		take(a, in, bytes, *n);
		*n = 0;
		return MHD_YES;
	}
	answer(a, connection, method, path, in, &reply);
	return reply_queue(a, connection, &reply);
}

static void on_completed(void *ctx, struct MHD_Connection *connection, void **request,
    enum MHD_RequestTerminationCode why)
{
	struct incoming *in = *request;
	struct api *a = ctx;

	if (in && in->taken)
		a->take->drop(in->taken);
	if (in)
		free(in->body);
	free(in);
	*request = NULL;
}

/* Path and query are decoded by us, which refuses what is no text. */
static size_t leave_encoded(void *ctx, struct MHD_Connection *connection, char *s)
{
	return strlen(s);
}

static void log_daemon(void *ctx, const char *format, va_list ap)
    __attribute__((format(printf, 2, 0)));

static void log_daemon(void *ctx, const char *format, va_list ap)
{
	char text[512];

	vsnprintf(text, sizeof(text), format, ap);
	text[strcspn(text, "\n")] = '\0';
	fprintf(stderr, "yoked: API: %s\n", text);
}

struct api *api_new_fd(
    uv_loop_t *loop, int fd, api_fn *const fn[API_COUNT], void *service, char *why, size_t n)
{
	struct api *a = calloc(1, sizeof(*a));
	const union MHD_DaemonInfo *info;

	if (!a)
		goto fail;
	a->loop = loop;
	a->fn = fn;
	a->service = service;
	a->daemon = MHD_start_daemon(MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | MHD_USE_ERROR_LOG,
	    0, NULL, NULL, on_request, a, MHD_OPTION_EXTERNAL_LOGGER, log_daemon, NULL,
	    MHD_OPTION_LISTEN_SOCKET, (MHD_socket)fd, MHD_OPTION_NOTIFY_COMPLETED, on_completed, a,
	    MHD_OPTION_UNESCAPE_CALLBACK, leave_encoded, a, MHD_OPTION_CONNECTION_LIMIT,
	    (unsigned)CONNECTIONS, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)IDLE_S, MHD_OPTION_END);
	info = a->daemon ? MHD_get_daemon_info(a->daemon, MHD_DAEMON_INFO_EPOLL_FD) : NULL;
	if (!info || uv_poll_init(loop, &a->poll, info->epoll_fd))
		goto fail;
	uv_timer_init(loop, &a->due);
	uv_timer_init(loop, &a->life);
	a->handles = true;
	a->poll.data = a->due.data = a->life.data = a;
	uv_poll_start(&a->poll, UV_READABLE, on_ready);
	uv_timer_start(&a->life, on_life, STREAM_LIFE_MS, STREAM_LIFE_MS);
	soon(a);
	return a;

fail:
	snprintf(why, n, "the API's socket cannot be served: out of memory or descriptors");
	if (a && a->daemon)
		MHD_stop_daemon(a->daemon);
	else
		close(fd);
	free(a);
	return NULL;
}

struct api *api_new(uv_loop_t *loop, const char *socket, unsigned mode, api_fn *const fn[API_COUNT],
    void *service, char *why, size_t n)
{
	int fd = listen_open(socket, mode, why, n);
	struct api *a;

	if (fd < 0)
		return NULL;
	a = api_new_fd(loop, fd, fn, service, why, n);
	if (a)
		a->path = strdup(socket);
	else
		unlink(socket);
	return a;
}

void api_takes(struct api *a, const struct api_take *take)
{
	a->take = take;
}

void api_publish(struct api *a, uint64_t topic, const json_t *line)
{
	char *text;

	if (!a->handles || !a->streams.first)
		return;
	text = json_dumps(line, JSON_COMPACT);
	if (!text)
		return;
	if (stream_send(&a->streams, topic, text, strlen(text)) |
	    stream_send(&a->streams, topic, "\n", 1))
		soon(a);
	free(text);
}

void api_topic_end(struct api *a, uint64_t topic)
{
	if (a->handles && stream_end(&a->streams, topic))
		soon(a);
}

void api_stop(struct api *a)
{
	if (!a->handles)
		return;
	if (a->path)
		unlink(a->path);
	stream_end_all(&a->streams);
	MHD_run(a->daemon);
	a->handles = false;
	uv_poll_stop(&a->poll);
	uv_close((uv_handle_t *)&a->poll, NULL);
	uv_close((uv_handle_t *)&a->due, NULL);
	uv_close((uv_handle_t *)&a->life, NULL);
}

void api_free(struct api *a)
{
	MHD_stop_daemon(a->daemon);
	free(a->path);
	free(a);
}
