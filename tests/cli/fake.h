/*
 * A service that answers what a test tells it to: HTTP/1.1 on a Unix socket (RFC 9112), one thread
 * for each connection, so that a request can come while a stream is open.
 */
#ifndef FAKE_H
#define FAKE_H

#include <stddef.h>

struct fake;

/* Listen on yoke.sock below folder. Fails the test when it cannot. */
struct fake *fake_start(const char *folder);

/* Stop, wait for all connections, free. */
void fake_stop(struct fake *f);

/*
 * The answer to a request, "GET /v1/machines"; the newest that was told counts. Strings are copied,
 * bytes not. Status 0: the connection is closed without an answer.
 */
void fake_answer(struct fake *f, const char *request, int status, const char *body);
void fake_bytes(struct fake *f, const char *request, const void *bytes, size_t n);

/*
 * A stream of chunks as answer. steps ends with NULL and is not copied. A step is a line, which is
 * sent with its line end, or begins with:
 *   +TEXT       sent as it is, without a line end
 *   !interrupt  SIGINT to the process that asks
 *   !seen R     go on when request R has been seen, or after 20 s
 *   !wrote F    go on when file F in the folder is not empty, or after 20 s
 *   !again      send the step before the last one again and again until the other side has closed
 *   !gone       go on when the other side has closed, or after 20 s
 *   !break      close without the last chunk
 */
void fake_stream(struct fake *f, const char *request, const char *const *steps);

/* How often a request was seen (all of them with NULL), and the body it had last, "" for none. */
int fake_seen(struct fake *f, const char *request);
const char *fake_body(struct fake *f, const char *request);

/* The last request line seen, method and target. */
const char *fake_last(struct fake *f);

#endif
