/* RFC 2217 between a stream and its connection; used by stream.c alone, on streams that have it. */
#ifndef STREAM_COMPORT_H
#define STREAM_COMPORT_H

#include <sys/types.h>
#include "stream.h"

/* As stream_open, for rfc2217://HOST:PORT: connected, set, every value compared, emptied. */
int stream_comport_open(struct stream *s, const struct line_serial *line, uint32_t item,
    struct parent *p, struct fault *f);

/* As stream_events, stream_deadline, stream_tick, stream_write. */
short stream_comport_events(const struct stream *s, bool write);
uint64_t stream_comport_deadline(const struct stream *s);
bool stream_comport_tick(struct stream *s);
int stream_comport_write(struct stream *s, const unsigned char *bytes, size_t n);

/* True when characters of the line came while it was opened: they are in buffer, *n of them. */
bool stream_comport_early(struct stream *s, unsigned char *buffer, size_t size, ssize_t *n);

/* Take the n bytes that were read; the line's characters among them are in buffer afterwards. How
 * many, or -1 when the line is lost. */
int stream_comport_feed(struct stream *s, unsigned char *buffer, size_t n);

/* Bytes that the connection has not taken. */
long stream_comport_queued(const struct stream *s);

/* As stream_counts and stream_signals, as far as the server tells. */
bool stream_comport_counts(const struct stream *s, struct stream_counts *out);
bool stream_comport_signals(const struct stream *s, struct stream_signals *out);

/* Why it failed, "" when it has not. */
void stream_comport_says(const struct stream *s, char *text, size_t size);

/* Free; the connection stays. */
void stream_comport_free(struct stream *s);

#endif
