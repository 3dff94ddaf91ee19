/*
 * A local serial port through libserialport: used to open, configure and get the descriptor;
 * reading, writing and waiting are the driver's. The only home of libserialport.h.
 */
#ifndef PORT_H
#define PORT_H

#include "stream.h"

/*
 * Find the port that line's address means, open and set it: raw, no XON/XOFF of the kernel's (the
 * sender counts and brakes itself, because DC3 may come with a parity bit that the kernel does not
 * know), RTS/CTS by the kernel where line's flow says so, locked against other programs, emptied. 0
 * with the stream's fd, port and name set, or -1 with the fault set: OFFLINE, BUSY, ORDER.
 */
int port_open(struct stream *s, const struct line_serial *line, uint32_t item, struct fault *f);

/* Throw away what is unsent and close: closing with unsent characters can take the kernel half a
 * minute. */
void port_close(struct stream *s);

/* The driver's error counts since it was loaded, TIOCGICOUNT. False, and zeros, when it has none.
 */
bool port_counts(int fd, struct stream_counts *out);

/* True when the driver says that its last bit has left. USB adapters do not tell. */
bool port_has_sent(int fd);

/* The modem lines of the port now. False when it has none. */
bool port_signals(int fd, struct stream_signals *out);

#endif
