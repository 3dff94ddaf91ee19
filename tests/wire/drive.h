/* Drives a sender as a careful caller does, on a clock of its own. */
#ifndef DRIVE_H
#define DRIVE_H

#include "wire_test.h"
#include "serial_send.h"

enum { DRIVE_MAX = 64 * 1024 };

struct drive {
	struct serial_send *s;
	uint64_t now;
	uint8_t out[DRIVE_MAX]; /* what was put on the line */
	size_t n;
	uint64_t wakes;
};

/* Settings of a plain line: 9600 7E2, ASCII, LF, reserve 16, no waiting, stall 30 s. */
struct line_serial drive_settings(void);

/* A sender for the program, begun at d->now; fails the test when it is refused. */
void drive_begin(
    struct drive *d, const struct line_serial *settings, const void *program, size_t n);

/*
 * Take, tick and sleep until the sender's own deadlines, up to the time 'until' or until it is
 * final. Fails the test when a deadline does not lie in the future: a caller would spin.
 */
void drive_until(struct drive *d, uint64_t until);

/* One byte from the control, now. */
void drive_hear(struct drive *d, uint8_t byte);

/* The outcome so far. */
struct serial_send_outcome drive_outcome(const struct drive *d);

void drive_end(struct drive *d);

#endif
