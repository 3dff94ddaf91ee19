/*
 * Requests to the service over its Unix socket. The command's only user of libcurl, which is loaded
 * at the first request.
 */
#ifndef HTTP_H
#define HTTP_H

#include <jansson.h>
#include <stddef.h>

struct http_answer {
	long status;  /* HTTP status */
	json_t *json; /* NULL when the body is no JSON */
	char *bytes;  /* the body, NUL-terminated; NULL when there is none */
	size_t n;
};

/*
 * Where the service listens: socket itself when it is given, otherwise yoke.sock in home, in
 * YOKE_HOME, or in /var/lib/yoke. Both NULL: as the environment says.
 */
void http_use(const char *home, const char *socket);

/* How long the service may be silent before a request is given up, in seconds; 120 unless set. */
void http_patience(long seconds);

/*
 * One request; body NULL for GET. 0 and *a, whatever its status; -1 when the service could not be
 * reached or answered with more than 256 MiB, which has been said on stderr. Free *a in either
 * case.
 */
int http_request(const char *path, const json_t *body, struct http_answer *a);
/* POST the rest of a file, n bytes, as they are. As http_request; what cannot be read is said too. */
int http_upload(const char *path, int fd, size_t n, struct http_answer *a);

void http_answer_free(struct http_answer *a);

/*
 * GET a body of any size: take is called with each piece of it as it comes, when the status is 2xx;
 * it returns 0 to go on. A body with another status is in *a as with http_request. 0 at the end, 1
 * when take ended it, -1 as http_request. Free *a in any case.
 */
int http_download(const char *path, int (*take)(void *ctx, const char *bytes, size_t n), void *ctx,
    struct http_answer *a);

/*
 * A stream of JSON lines: line is called for each; it returns 0 to go on. idle (may be NULL) is
 * called about once a second and soon after a signal; it also returns 0 to go on. *status is the
 * HTTP status; lines of an answer that is not 2xx are handed over all the same. 0 at the stream's
 * end, 1 when a call ended it, -1 as http_request, also when the stream broke off.
 */
int http_stream(const char *path, int (*line)(void *ctx, json_t *o), int (*idle)(void *ctx),
    void *ctx, long *status);

/* s percent-encoded for one component of a path or query, RFC 3986 2.3. The caller frees; NULL
 * without memory. */
char *http_escape(const char *s);

#endif
