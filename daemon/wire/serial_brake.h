/*
 * What keeps a sender from sending: the control's DC3, its ready line (RTS/CTS or DTR/DSR), and
 * whether the line that tells that it is on has dropped. Plain data; time is the caller's.
 */
#ifndef SERIAL_BRAKE_H
#define SERIAL_BRAKE_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/line.h"

#define SERIAL_BRAKE_NEVER UINT64_MAX

/* A watched line that is off for so long has dropped: contacts bounce. ms, common practice. */
enum { SERIAL_BRAKE_DROP_MS = 50 };

struct serial_brake {
	bool words; /* DC3 and DC1 brake */
	bool line;  /* a ready line brakes */
	bool
	    obeyed; /* ... and what sends for us obeys it by itself: what is below us stays there */
	bool dc3;   /* the control's last word was DC3 */
	bool off;   /* its ready line is off */
	bool on;    /* the result: nothing may be sent */
	uint64_t off_since;     /* of the ready line */
	uint64_t dropped_since; /* of the watched line; SERIAL_BRAKE_NEVER: it is on */
};

/* Set up; nothing brakes. The kernel obeys CTS by itself, a device server with RFC 2217 also DSR.
 */
void serial_brake_init(struct serial_brake *b, const struct line_serial *settings);

/* The control said DC3 (stop) or DC1. False when words do not brake here. */
bool serial_brake_word(struct serial_brake *b, bool stop);

/* The ready line, seen at time now. */
void serial_brake_line(struct serial_brake *b, uint64_t now, bool ready);

/* The watched line, seen at time now. */
void serial_brake_watched(struct serial_brake *b, uint64_t now, bool on);

/* When the watched line counts as dropped, or SERIAL_BRAKE_NEVER while it is on. */
uint64_t serial_brake_drops_at(const struct serial_brake *b);

#endif
