/* A TCP connection to a device server: tcp://HOST:PORT, or tcp://[ADDRESS]:PORT for a colon in the
 * address; rfc2217:// the same. */
#ifndef TCP_H
#define TCP_H

#include "fault.h"
#include "parent.h"

/*
 * Connect within line->open_ms, heartbeats included. Little piles up below: no delay, a small send
 * buffer. The other end of a silent connection is probed, and the connection fails in ten seconds
 * when nobody answers; tcp_dead tells it of one that is not silent. The non-blocking descriptor, or
 * -1 with the fault set: OFFLINE, ORDER, CANCELLED.
 */
int tcp_open(const struct line_serial *line, uint32_t item, struct parent *p, struct fault *f);

/* True when what was sent was not even acknowledged for some seconds: the other end, or the way to
 * it, is gone. A peer that takes nothing but answers is alive: a control holds it. */
bool tcp_dead(int fd);

/* Times that something had to be sent again, since it was connected. */
uint32_t tcp_repeats(int fd);

/* Split tcp://HOST:PORT or rfc2217://HOST:PORT. True when both parts are there and fit; the port is
 * not looked at beyond its digits. */
bool tcp_split(const char *address, char host[YOKE_PATH_MAX + 1], char port[6]);

#endif
