/*
 * A local serial port through libserialport: used to open, configure and get the descriptor;
 * reading, writing and waiting are the driver's. The only home of libserialport.h.
 */
#ifndef PORT_H
#define PORT_H

#include "stream.h"

/*
 * Open and set the port of line: raw, no flow control of the kernel's (the sender counts and brakes
 * itself, because DC3 may come with a parity bit that the kernel does not know), locked against
 * other programs, emptied. 0 with the stream's fd and port set, or -1 with the fault set: OFFLINE,
 * BUSY, ORDER.
 */
int port_open(struct stream *s, const struct line_serial *line, uint32_t item, struct fault *f);

/* Throw away what is unsent and close: closing with unsent characters can take the kernel half a
 * minute. */
void port_close(struct stream *s);

/* The driver's count of framing, parity, overrun and break errors, 0 when it has none. */
uint64_t port_errors(int fd);

#endif
