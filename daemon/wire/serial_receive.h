/*
 * Receiving what a control punches, one program or several in one stream, without I/O. Nothing is
 * sent to the control.
 *
 * Use: feed() what the port received; wait for more or until deadline(), then tick(). Times are
 * milliseconds of one clock of the caller's that never runs backwards. The bytes are kept as they
 * came; what they mean is worked out at the end.
 *
 *   WAITING --filler--> LEADER --text--> BODY --% at the beginning of a block--> CLOSING
 *      `------------text------------------^                DC4 or silence: DONE, or FAILED from
 * every other state
 *
 * What comes behind a closing % within the silence goes on: another program, with a % of its own or
 * not (several.h). A stream of several ends as one does: by DC4, or by silence.
 *
 * DONE means that a text came to its end; whether it can be trusted is in the findings.
 */
#ifndef SERIAL_RECEIVE_H
#define SERIAL_RECEIVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "iso.h"
#include "serial_capture.h"
#include "yoke/line.h"

struct serial_receive;

#define SERIAL_RECEIVE_NEVER UINT64_MAX

/*
 * So much longer than read_back_ms is waited while a leader runs: filler without end is no leader,
 * but a control that is off, or a line that floats. ms; the longest leader of tape at 110 baud is
 * far shorter.
 */
enum { SERIAL_RECEIVE_LEADER_MS = 300000 };

enum serial_receive_state {
	SERIAL_RECEIVE_WAITING = 0, /* nothing came yet */
	SERIAL_RECEIVE_LEADER,      /* NUL, DEL, device controls, line ends only */
	SERIAL_RECEIVE_BODY,
	SERIAL_RECEIVE_CLOSING, /* the closing % came */
	SERIAL_RECEIVE_DONE,
	SERIAL_RECEIVE_FAILED,
};

enum serial_receive_reason {
	SERIAL_RECEIVE_OK = 0,
	SERIAL_RECEIVE_NOTHING,   /* no text within read_back_ms */
	SERIAL_RECEIVE_TOO_BIG,   /* more than max bytes */
	SERIAL_RECEIVE_MEMORY,    /* no memory */
	SERIAL_RECEIVE_LOST,      /* the caller lost the line */
	SERIAL_RECEIVE_CANCELLED, /* by the caller */
};

struct serial_receive_outcome {
	enum serial_receive_state state;
	enum serial_receive_reason reason; /* OK unless FAILED */
	uint32_t findings;                 /* serial_capture_finding; set in DONE */
	bool usable;                       /* DONE, and no finding of SERIAL_CAPTURE_UNUSABLE */
	struct iso_parity parity;          /* over all bytes that came */
	enum iso_framing framing;
	uint64_t before;      /* characters before the first % that are no filler */
	uint64_t after;       /* characters after the end that are no filler; not kept */
	uint64_t damage_line; /* line of the first NUL, or byte without a character, inside the
	                         text, from 1; 0: none */
	const uint8_t
	    *raw; /* what came, to the byte; belongs to the machine; NULL when raw_size is 0 */
	size_t raw_size;
	const uint8_t *text; /* in DONE: canonical form (canonical.h) from the first % on, parity
	                        taken off; belongs to the machine; NULL when text_size is 0 */
	size_t text_size;
};

/*
 * Begin. settings is copied; of it framing, code, eia, read_back_ms and silence_ms are used. max:
 * most bytes kept, 1 or more. Returns the machine, freed by serial_receive_free, or NULL when there
 * is no memory, max is 0, or the settings of EIA contradict one another.
 */
struct serial_receive *serial_receive_new(
    const struct line_serial *settings, size_t max, uint64_t now);

/* Free, with raw and text; NULL is allowed. */
void serial_receive_free(struct serial_receive *r);

/* What came, in order, in chunks of any size. Checks no deadline. Bytes after the end are not
 * taken, only counted. */
void serial_receive_feed(struct serial_receive *r, uint64_t now, const void *bytes, size_t n);

/* Let time pass: silence ends a text, and waiting. */
void serial_receive_tick(struct serial_receive *r, uint64_t now);

/* When tick() wants to be called next (the caller's clock), or SERIAL_RECEIVE_NEVER. */
uint64_t serial_receive_deadline(const struct serial_receive *r);

/* Give up, by order of a person or because the line is gone. No effect after DONE or FAILED. */
void serial_receive_cancel(struct serial_receive *r, uint64_t now);
void serial_receive_lost(struct serial_receive *r, uint64_t now);

/* Before the first % came: forget what did, and wait as from the beginning. False when it came, or at an
 * end. */
bool serial_receive_anew(struct serial_receive *r, uint64_t now);

/* Where we stand; final in DONE and FAILED. Pointers in it hold until the next call with r. */
void serial_receive_outcome(const struct serial_receive *r, struct serial_receive_outcome *outcome);

/* For a person: what happened and what to do. A constant string, never NULL. */
const char *serial_receive_says(enum serial_receive_reason reason);

#endif
