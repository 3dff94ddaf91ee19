/* The net side of a line: a listening TCP socket on 127.0.0.1, one connection at a time. */
#ifndef BENCH_PORT_H
#define BENCH_PORT_H

#include <poll.h>
#include <stdbool.h>
#include <stdint.h>

struct port;

/* A listening socket on 127.0.0.1. *number 0: any free; gets the number in use. -1 with errno. */
int port_listen(uint16_t *number);

/* Opens the port's listening socket under its number. False with errno. */
bool port_open(struct port *p);

/* Closes both sockets; what was queued to go out is lost. */
void port_shut(struct port *p);

/* Closes the connection only. */
void port_hang_up(struct port *p);

/* Queues a device control character; it goes out at the line's pace, before anything punched. */
void port_say(struct port *p, uint8_t byte);

/* What to poll for. */
struct pollfd port_pollfd(const struct port *p);

/* Does all that is due at `now` (ns), given what poll found (0: nothing). */
void port_step(struct port *p, uint64_t now, short revents);

/* When something is due next, ns; LINE_NEVER. */
uint64_t port_next(const struct port *p);

#endif
