/* Streams of JSON lines to those who follow a topic. */
#ifndef STREAM_H
#define STREAM_H

#include <microhttpd.h>
#include <stdint.h>

struct stream;

/* All streams of one API. Zero-initialise. */
struct stream_list {
	struct stream *first;
};

/* Most bytes that a reader may be behind, and the pause between two signs of life on a silent
 * stream. */
enum { STREAM_BEHIND_MAX = 1 << 20, STREAM_LIFE_MS = 15000 };

/* A response that streams this topic on this connection. The caller queues and destroys it. NULL
 * without memory. */
struct MHD_Response *stream_response(
    struct stream_list *l, struct MHD_Connection *connection, uint64_t topic);

/* Add bytes to every stream of topic. True when a connection was woken: the daemon has to run. */
int stream_send(struct stream_list *l, uint64_t topic, const char *bytes, size_t n);

/* No more for this topic. As stream_send. */
int stream_end(struct stream_list *l, uint64_t topic);

/* A blank line on every stream, so that readers who are gone are noticed. As stream_send. */
int stream_life(struct stream_list *l);

/* End all. As stream_send. */
int stream_end_all(struct stream_list *l);

#endif
