/*
 * The other end of a serial line for tests: a listener on 127.0.0.1 and a script that runs in a
 * thread of its own and says and hears bytes. It follows no rule by itself: each test writes down
 * what a control does on its line.
 */
#ifndef DESK_H
#define DESK_H

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include "rig.h"

enum { DESK_HEARD = 1 << 20 };

struct desk {
	int listener, fd; /* fd: the connection, -1 before desk_accept */
	int port;
	char name[64]; /* of a pseudo-terminal, and a descriptor that keeps it */
	int slave;
	pthread_t thread;
	void (*script)(struct desk *d);
	unsigned char heard[DESK_HEARD]; /* all bytes that came, as they came */
	size_t n;
	size_t mark; /* for scripts: where the present program begins */
	char text[4][RIG_TEXT];
	unsigned texts;
	bool failed; /* a byte that the script waited for did not come */
};

/* Listen, and run the script in a thread. */
void desk_open(struct desk *d, void (*script)(struct desk *d));

/* The same over a new pseudo-terminal; the script is connected from its beginning. */
void desk_open_port(struct desk *d, void (*script)(struct desk *d));

/* Wait for the script's end and close. The script has not failed. */
void desk_close(struct desk *d);

/* For scripts: take the next connection; say bytes; hang up. */
void desk_accept(struct desk *d);
void desk_say(struct desk *d, const void *bytes, size_t n);
void desk_hang_up(struct desk *d);

/* Hear until n bytes more have come since the mark, or ms are over. True when they came. */
bool desk_hear(struct desk *d, size_t n, int ms);

/* Hear until the program since the mark is whole: its second %, with or without parity. */
bool desk_hear_program(struct desk *d);

/* Hear for ms whatever comes. How many bytes. */
size_t desk_hear_for(struct desk *d, int ms);

/* What was heard since the mark, bit 8 taken off, NULs left out; and set the mark behind
 * it. Belongs to the desk and lives until the fourth next call. */
const char *desk_text(struct desk *d);

/* Serial lines over this desk for item i of an order: fast, ISO code, waits for DC1, short
 * deadlines. */
void desk_line(const struct desk *d, struct rig *r, uint32_t i);

#endif
