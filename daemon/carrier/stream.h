/*
 * The way to a control's serial line: a TCP connection to a device server, plain or with RFC 2217,
 * or a local port. The driver above waits on a descriptor and asks here for what to wait; tests can
 * give it any descriptor.
 */
#ifndef STREAM_H
#define STREAM_H

#include "fault.h"
#include "parent.h"
#include "serial_mark.h"

struct sp_port;
struct stream_comport;

/* What a port's driver counts of what it received, and what it marked as wrong in its stream, counted
 * or not. Wraps; differences are what counts. */
struct stream_counts {
	uint32_t frame, parity, overrun, brk;
	uint32_t marked;
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
	char name[256]; /* of a port that we set: its address, and what it is now; else "" */
	struct stream_comport *comport; /* RFC 2217 over the connection, NULL for none */
	bool speaks_telnet;             /* over tcp:// came telnet: characters would be changed */
	unsigned first;                 /* characters that came so far, up to enough to tell that */
	unsigned char begin[2];
	struct stream_counts kept; /* errors before it was opened again */
	struct serial_mark marks;  /* of a port: wrong characters in its stream */
	uint64_t watch_at;         /* when to look at the connection's health; parent_now() clock */
};

/*
 * Open the line of item, within its open_ms: connected, and the port set and empty where it can be
 * set. 0, or -1 with the fault set: OFFLINE, BUSY, ORDER, CANCELLED. The stream is to be closed
 * only after a 0.
 */
int stream_open(struct stream *s, const struct line_serial *line, uint32_t item, struct parent *p,
    struct fault *f);

/*
 * Close and open again, for a connection that was lost while nothing was under way; tried a few
 * times, with a second before each. True when it is open; else it is closed, and the fault tells
 * why. line errors so far are kept.
 */
bool stream_again(struct stream *s, const struct line_serial *line, uint32_t item, struct parent *p,
    struct fault *f);

/* Events to wait for on fd: reading always, writing when wanted and worth it. */
short stream_events(const struct stream *s, bool write);

/*
 * True when it may be written to without waiting for the descriptor to be writable: a connection
 * takes what it has room for, and seldom has none.
 */
bool stream_at_once(const struct stream *s);

/* When to call stream_tick at the latest, on the clock of parent_now(); UINT64_MAX for no matter.
 */
uint64_t stream_deadline(const struct stream *s);

/* Let time pass. False when the line is lost. */
bool stream_tick(struct stream *s);

/* Read what is there, after these events came. Bytes, 0 for nothing, -1 when the line is lost. */
int stream_read(struct stream *s, short came, unsigned char *buffer, size_t size);

/* Write what is taken now. Bytes, 0 for nothing, -1 when the line is lost. */
int stream_write(struct stream *s, const unsigned char *bytes, size_t n);

/* Characters that lie unsent below us; -1 when nobody counts them. */
long stream_queued(const struct stream *s);

/* True when the port says that its last bit has left. False where no port can tell. */
bool stream_has_sent(const struct stream *s);

/* Times that the network had to be told something again; 0 for a port. */
uint32_t stream_repeats(const struct stream *s);

/* Take those that were counted before away. */
void stream_counts_less(struct stream_counts *c, const struct stream_counts *before);

/* Wrong characters: framing and parity, as counted or as marked. */
uint64_t stream_counts_wrong(const struct stream_counts *c);

/* Errors of all kinds together. */
uint64_t stream_counts_all(const struct stream_counts *c);

/* Errors counted since it was opened. False, and zeros, where nobody counts. */
bool stream_counts(const struct stream *s, struct stream_counts *out);

/* Their sum. */
uint64_t stream_line_errors(const struct stream *s);

/* The modem lines now. False where nobody tells. */
bool stream_signals(const struct stream *s, struct stream_signals *out);

/* Why the line was lost, as a sentence without its end, into text; "" when nothing is known. */
void stream_says(const struct stream *s, char *text, size_t size);

/* Close. discard: what is unsent must not arrive any more. */
void stream_close(struct stream *s, bool discard);

#endif
