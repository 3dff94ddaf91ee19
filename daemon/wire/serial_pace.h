/*
 * How many characters lie below us: in the kernel, an adapter or a device server, handed over but
 * not yet on the line. Nobody down there tells reliably, so they are counted by time: a character
 * leaves every (bits / baud) seconds.
 *
 * Times are milliseconds since the pace was set up. Plain data, no allocation.
 */
#ifndef SERIAL_PACE_H
#define SERIAL_PACE_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/line.h"

/* Later times and higher rates are cut to these: every sum below then fits 64 bits. */
#define SERIAL_PACE_MS_MAX ((uint64_t)1 << 40) /* 34 years */
enum { SERIAL_PACE_BAUD_MAX = 4000000 };       /* the highest rate that Linux names */

/*
 * The line is taken to be this much slower than its rate, per thousand. The clocks of two stations
 * never agree; if ours were the faster, the pile below would grow with every character. Costs as
 * much of the line's use. Common practice.
 */
enum { SERIAL_PACE_SLOWER = 5 };

struct serial_pace {
	uint64_t baud;      /* also: ticks per millisecond; a tick is 1 / (1000 * baud) seconds */
	uint64_t character; /* ticks per character, slowness included */
	uint64_t free_at;   /* tick at which the line will have sent all it was given */
};

/* Set up for a rate in bits per second (1..SERIAL_PACE_BAUD_MAX) and a framing; nothing below. */
void serial_pace_init(struct serial_pace *p, uint32_t baud, enum line_framing framing);

/* The same for a line that is as much faster than its rate: what is below is at least so much. */
void serial_pace_init_least(struct serial_pace *p, uint32_t baud, enum line_framing framing);

/* Characters below at time ms; one that is on the line counts. */
uint64_t serial_pace_below(const struct serial_pace *p, uint64_t ms);

/* n characters are handed over at time ms. */
void serial_pace_add(struct serial_pace *p, uint64_t ms, uint64_t n);

/* Somebody counted n characters below at time ms: there are at least as many. Never makes the pile
 * smaller. */
void serial_pace_at_least(struct serial_pace *p, uint64_t ms, uint64_t n);

/* Time in ms, rounded up, from which on at most n of the characters handed over so far are below.
 */
uint64_t serial_pace_when(const struct serial_pace *p, uint64_t n);

/* Nominal time of n characters on the line, ms, rounded up: n * bits / baud. */
uint64_t serial_pace_line_ms(uint32_t baud, enum line_framing framing, uint64_t n);

/*
 * Free places that the control's buffer must still have when it sends DC3, so that nothing is lost:
 * what the line carries during the reaction (ms) plus what is below, plus the character in the
 * shift register and the one on the wire. Rounded up. Source of the rule: common practice.
 */
uint64_t serial_pace_room_needed(
    uint32_t baud, enum line_framing framing, uint32_t reaction, uint64_t below);

#endif
