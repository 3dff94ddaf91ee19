/*
 * The way to a control's serial line: a raw TCP connection to a device server, or a local port. The
 * driver above sees a non-blocking descriptor, so that tests can give it any.
 */
#ifndef STREAM_H
#define STREAM_H

#include "fault.h"
#include "parent.h"

struct sp_port;

/* What a port's driver counts of what it received. Wraps; differences are what counts. */
struct stream_counts {
	uint32_t frame, parity, overrun, brk;
};

/* Modem lines that the control drives. */
struct stream_signals {
	bool cts, dsr, dcd;
};

struct stream {
	int fd;                      /* non-blocking; -1 when closed */
	bool socket;                 /* a TCP connection; else a port or whatever a test gave */
	struct sp_port *port;        /* a local port of libserialport, NULL for none */
	struct stream_counts before; /* the port's counts when it was opened */
	char name[256];              /* of a local port: its address, and what it is now */
};

/*
 * Open the line of item, within its open_ms. 0, or -1 with the fault set: OFFLINE, BUSY, ORDER,
 * CANCELLED. The stream is to be closed only after a 0.
 */
int stream_open(struct stream *s, const struct line_serial *line, uint32_t item, struct parent *p,
    struct fault *f);

/* Characters that lie unsent below us; -1 when nobody counts them. */
long stream_queued(const struct stream *s);

/* Errors counted since it was opened. False, and zeros, where nobody counts. */
bool stream_counts(const struct stream *s, struct stream_counts *out);

/* Their sum. */
uint64_t stream_line_errors(const struct stream *s);

/* The modem lines now. False where nobody tells. */
bool stream_signals(const struct stream *s, struct stream_signals *out);

/* Close. discard: what is unsent must not arrive any more. */
void stream_close(struct stream *s, bool discard);

#endif
