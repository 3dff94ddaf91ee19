/* A raw TCP connection to a device server: tcp://HOST:PORT, or tcp://[ADDRESS]:PORT for a colon in
 * the address. */
#ifndef TCP_H
#define TCP_H

#include "fault.h"
#include "parent.h"

/*
 * Connect within line->open_ms, heartbeats included. Little piles up below: no delay, a small send
 * buffer. A dead peer is noticed after stall_ms. The non-blocking descriptor, or -1 with the fault
 * set: OFFLINE, ORDER, CANCELLED.
 */
int tcp_open(const struct line_serial *line, uint32_t item, struct parent *p, struct fault *f);

/* Split tcp://HOST:PORT. True when both parts are there and fit; the port is not looked at beyond
 * its digits. */
bool tcp_split(const char *address, char host[YOKE_PATH_MAX + 1], char port[6]);

#endif
