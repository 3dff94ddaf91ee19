/*
 * libcurl pulls in some twenty libraries, ten milliseconds of a start that the offline verbs shall
 * not pay: it is loaded by name when the first request is made.
 */
#include "http.h"

#include <curl/curl.h>
#include <dlfcn.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "yoke/limits.h"

/* The service writes a blank line on a silent stream every 15 s. */
enum { BODY_MAX = 256 << 20, LINE_MAX_BYTES = 4 << 20, STREAM_SILENCE_S = 60 };

static struct {
	void *handle;
	CURLcode (*global_init)(long);
	CURL *(*init)(void);
	CURLcode (*setopt)(CURL *, CURLoption, ...);
	CURLcode (*perform)(CURL *);
	CURLcode (*getinfo)(CURL *, CURLINFO, ...);
	void (*cleanup)(CURL *);
	const char *(*strerror)(CURLcode);
	struct curl_slist *(*slist_append)(struct curl_slist *, const char *);
	void (*slist_free)(struct curl_slist *);
} lib;

static char socket_path[YOKE_PATH_MAX + 32];
static long patience = 120;

void http_use(const char *home, const char *socket)
{
	const char *environment = getenv("YOKE_HOME");

	if (!home)
		home = environment && *environment ? environment : "/var/lib/yoke";
	if (socket)
		snprintf(socket_path, sizeof(socket_path), "%s", socket);
	else
		snprintf(socket_path, sizeof(socket_path), "%s/yoke.sock", home);
}

void http_patience(long seconds)
{
	patience = seconds;
}

static bool load(void)
{
	const struct {
		const char *name;
		void *to;
	} wanted[] = {
	    {"curl_global_init", &lib.global_init},
	    {"curl_easy_init", &lib.init},
	    {"curl_easy_setopt", &lib.setopt},
	    {"curl_easy_perform", &lib.perform},
	    {"curl_easy_getinfo", &lib.getinfo},
	    {"curl_easy_cleanup", &lib.cleanup},
	    {"curl_easy_strerror", &lib.strerror},
	    {"curl_slist_append", &lib.slist_append},
	    {"curl_slist_free_all", &lib.slist_free},
	};
	void *handle, *symbol;

	if (lib.handle)
		return true;
	handle = dlopen("libcurl.so.4", RTLD_NOW);
	for (size_t i = 0; handle && i < sizeof(wanted) / sizeof(wanted[0]); i++) {
		symbol = dlsym(handle, wanted[i].name);
		if (!symbol)
			goto failed;
		/* ISO C has no conversion between pointers to objects and to functions. */
		memcpy(wanted[i].to, &symbol, sizeof(symbol));
	}
	if (!handle || lib.global_init(CURL_GLOBAL_NOTHING))
		goto failed;
	lib.handle = handle;
	return true;
failed:
	fprintf(stderr, "yoke: libcurl cannot be loaded: install the package libcurl4\n");
	if (handle)
		dlclose(handle);
	return false;
}

/* What comes in, and where it goes. */
struct body {
	CURL *curl;
	char *bytes;
	size_t n, cap;
	int (*take)(void *ctx, const char *bytes, size_t n);
	int (*line)(void *ctx, json_t *o);
	int (*idle)(void *ctx);
	void *ctx;
	time_t heard;                 /* monotonic seconds */
	bool ended, silent, too_much; /* why it was broken off: by a call of ours, by a bound */
};

static time_t seconds(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec;
}

static int add(struct body *b, const char *bytes, size_t n, size_t most)
{
	if (n > most - b->n) {
		b->too_much = true;
		return -1;
	}
	if (b->n + n + 1 > b->cap) {
		size_t cap = (b->n + n + 1) * 2;
		char *more = realloc(b->bytes, cap);

		if (!more)
			return -1;
		b->bytes = more;
		b->cap = cap;
	}
	memcpy(b->bytes + b->n, bytes, n);
	b->n += n;
	b->bytes[b->n] = '\0';
	return 0;
}

static size_t on_body(char *bytes, size_t one, size_t n, void *ctx)
{
	struct body *b = ctx;
	long status = 0;

	if (b->take && !lib.getinfo(b->curl, CURLINFO_RESPONSE_CODE, &status) && status >= 200 &&
	    status < 300) {
		b->ended = b->take(b->ctx, bytes, n) != 0;
		return b->ended ? 0 : n;
	}
	return add(b, bytes, n, BODY_MAX) ? 0 : n;
}

/* Hand over every whole line of what has come. */
static int hand_over(struct body *b)
{
	size_t from = 0;
	char *end;

	while ((end = memchr(b->bytes + from, '\n', b->n - from))) {
		size_t n = (size_t)(end - (b->bytes + from));
		json_t *o = n ? json_loadb(b->bytes + from, n, 0, NULL) : NULL;

		from += n + 1;
		if (o && b->line(b->ctx, o))
			b->ended = true;
		json_decref(o);
		if (b->ended)
			return -1;
	}
	b->n -= from;
	memmove(b->bytes, b->bytes + from, b->n);
	return 0;
}

static size_t on_stream(char *bytes, size_t one, size_t n, void *ctx)
{
	struct body *b = ctx;

	b->heard = seconds();
	return add(b, bytes, n, LINE_MAX_BYTES) || hand_over(b) ? 0 : n;
}

static int on_idle(void *ctx, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d)
{
	struct body *body = ctx;

	if (body->idle && body->idle(body->ctx))
		body->ended = true;
	else if (seconds() - body->heard > STREAM_SILENCE_S)
		body->silent = true;
	return body->ended || body->silent;
}

/* A handle for one request into b; NULL and said. */
static CURL *prepare(const char *path, struct body *b)
{
	char url[4096];
	CURL *c = load() ? lib.init() : NULL;

	if (!c)
		return NULL;
	if (snprintf(url, sizeof(url), "http://yoke%s", path) >= (int)sizeof(url)) {
		fprintf(stderr, "yoke: the request is longer than %zu bytes\n", sizeof(url));
		lib.cleanup(c);
		return NULL;
	}
	b->curl = c;
	b->heard = seconds();
	lib.setopt(c, CURLOPT_URL, url);
	lib.setopt(c, CURLOPT_UNIX_SOCKET_PATH, socket_path);
	lib.setopt(c, CURLOPT_NOSIGNAL, 1L);
	lib.setopt(c, CURLOPT_NOPROXY, "*");
	lib.setopt(c, CURLOPT_WRITEDATA, b);
	lib.setopt(c, CURLOPT_WRITEFUNCTION, b->line ? on_stream : on_body);
	if (b->line) {
		lib.setopt(c, CURLOPT_NOPROGRESS, 0L);
		lib.setopt(c, CURLOPT_XFERINFOFUNCTION, on_idle);
		lib.setopt(c, CURLOPT_XFERINFODATA, b);
	} else {
		lib.setopt(c, CURLOPT_LOW_SPEED_LIMIT, 1L);
		lib.setopt(c, CURLOPT_LOW_SPEED_TIME, patience);
	}
	return c;
}

static int fail(const struct body *b, CURLcode code)
{
	if (b->too_much)
		fprintf(stderr,
		    "yoke: the service's answer is longer than this command takes: ask for less\n");
	else if (b->silent)
		fprintf(stderr, "yoke: the service at %s has been silent for %d s\n", socket_path,
		    STREAM_SILENCE_S);
	else if (code == CURLE_COULDNT_CONNECT)
		fprintf(stderr,
		    "yoke: no service answers at %s: start yoked, or name its folder with --home "
		    "DIR or YOKE_HOME\n",
		    socket_path);
	else if (code == CURLE_OPERATION_TIMEDOUT)
		fprintf(stderr, "yoke: the service at %s did not answer within %ld s\n",
		    socket_path, patience);
	else
		fprintf(stderr, "yoke: talking to the service at %s failed: %s\n", socket_path,
		    lib.strerror(code));
	return -1;
}

/* Perform what was prepared; fills a from b, which it empties. 0, 1 ended by a call, -1 said. */
static int perform(struct body *b, struct http_answer *a)
{
	CURLcode code = lib.perform(b->curl);

	lib.getinfo(b->curl, CURLINFO_RESPONSE_CODE, &a->status);
	lib.cleanup(b->curl);
	a->bytes = b->bytes;
	a->n = b->n;
	if (b->ended)
		return 1;
	if (code)
		return fail(b, code);
	a->json = a->bytes ? json_loadb(a->bytes, a->n, 0, NULL) : NULL;
	return 0;
}

int http_request(const char *path, const json_t *body, struct http_answer *a)
{
	struct body in = {0};
	struct curl_slist *headers = NULL;
	char *text = body ? json_dumps(body, JSON_COMPACT) : NULL;
	int result = -1;

	memset(a, 0, sizeof(*a));
	if (body && !text) {
		fprintf(stderr, "yoke: there is no memory for the request\n");
		return -1;
	}
	if (!prepare(path, &in))
		goto out;
	if (body) {
		headers = lib.slist_append(NULL, "Content-Type: application/json");
		lib.setopt(in.curl, CURLOPT_POSTFIELDS, text);
		lib.setopt(in.curl, CURLOPT_HTTPHEADER, headers);
	}
	result = perform(&in, a);
	lib.slist_free(headers);
out:
	free(text);
	return result;
}

int http_download(const char *path, int (*take)(void *ctx, const char *bytes, size_t n), void *ctx,
    struct http_answer *a)
{
	struct body in = {.take = take, .ctx = ctx};

	memset(a, 0, sizeof(*a));
	return prepare(path, &in) ? perform(&in, a) : -1;
}

struct rest {
	int fd;
	size_t n;
	int error;
};

static size_t on_send(char *to, size_t one, size_t n, void *ctx)
{
	struct rest *r = ctx;
	ssize_t got;

	n *= one;
	if (n > r->n)
		n = r->n;
	do
		got = n ? read(r->fd, to, n) : 0;
	while (got < 0 && errno == EINTR);
	if (got < 0 || (got == 0 && n)) {
		r->error = got < 0 ? errno : ESTALE; /* it became shorter while it was read */
		return CURL_READFUNC_ABORT;
	}
	r->n -= (size_t)got;
	return (size_t)got;
}

int http_upload(const char *path, int fd, size_t n, struct http_answer *a)
{
	struct body in = {0};
	struct rest rest = {.fd = fd, .n = n};
	struct curl_slist *headers;
	int result;

	memset(a, 0, sizeof(*a));
	if (!prepare(path, &in))
		return -1;
	headers = lib.slist_append(NULL, "Content-Type: application/octet-stream");
	lib.setopt(in.curl, CURLOPT_POST, 1L);
	lib.setopt(in.curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)n);
	lib.setopt(in.curl, CURLOPT_READFUNCTION, on_send);
	lib.setopt(in.curl, CURLOPT_READDATA, &rest);
	lib.setopt(in.curl, CURLOPT_HTTPHEADER, headers);
	result = perform(&in, a);
	lib.slist_free(headers);
	if (rest.error)
		fprintf(stderr, "yoke: what was to be sent could not be read: %s\n",
		    strerror(rest.error));
	return result;
}

void http_answer_free(struct http_answer *a)
{
	json_decref(a->json);
	free(a->bytes);
	memset(a, 0, sizeof(*a));
}

int http_stream(const char *path, int (*line)(void *ctx, json_t *o), int (*idle)(void *ctx),
    void *ctx, long *status)
{
	struct body in = {.line = line, .idle = idle, .ctx = ctx};
	CURLcode code;

	*status = 0;
	if (!prepare(path, &in))
		return -1;
	code = lib.perform(in.curl);
	lib.getinfo(in.curl, CURLINFO_RESPONSE_CODE, status);
	lib.cleanup(in.curl);
	/* An answer that is one JSON value without a line end is a line too. */
	if (!code && in.n && !add(&in, "\n", 1, LINE_MAX_BYTES + 1))
		hand_over(&in);
	free(in.bytes);
	if (in.ended)
		return 1;
	return code ? fail(&in, code) : 0;
}

char *http_escape(const char *s)
{
	static const char hex[] = "0123456789ABCDEF";
	char *out = malloc(strlen(s) * 3 + 1), *p = out;

	if (!out)
		return NULL;
	for (; *s; s++) {
		unsigned char c = (unsigned char)*s;

		if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') ||
		    strchr("-._~", c)) {
			*p++ = (char)c;
			continue;
		}
		*p++ = '%';
		*p++ = hex[c >> 4];
		*p++ = hex[c & 15];
	}
	*p = '\0';
	return out;
}
