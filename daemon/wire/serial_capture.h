/*
 * What the bytes mean that a control punched: the parity they carry, whether that fits the line's
 * settings, and the text.
 */
#ifndef SERIAL_CAPTURE_H
#define SERIAL_CAPTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "canonical.h"
#include "iso.h"
#include "serial_code.h"

/* What is to be said about a text that came; bits of one word. */
enum serial_capture_finding {
	SERIAL_CAPTURE_DAMAGED = 1, /* NUL inside the body */
	SERIAL_CAPTURE_EVEN =
	    2, /* even parity in bit 8 where no code with parity is set: wrong framing */
	SERIAL_CAPTURE_ODD = 4,   /* odd parity in bit 8: wrong framing or another code */
	SERIAL_CAPTURE_NOISE = 8, /* no common parity: noise or wrong speed; no text */
	SERIAL_CAPTURE_NO_PARITY =
	    16, /* ISO code is set, but bit 8 is never used: readable, yet unchecked */
	SERIAL_CAPTURE_EIGHT_BIT = 32, /* a few 8-bit characters in a text without parity */
	SERIAL_CAPTURE_BEFORE = 64,    /* characters before the first %: not part of the text */
	SERIAL_CAPTURE_NO_START = 128, /* no % at all */
	SERIAL_CAPTURE_NO_END = 256,   /* no closing %: the text, or the last of several programs
	                                  in it, may be cut off */
	SERIAL_CAPTURE_EIA = 512,      /* EIA came where ISO or ASCII is set; no text */
	SERIAL_CAPTURE_ISO = 1024,     /* ISO or ASCII came where EIA is set; no text */
	SERIAL_CAPTURE_NO_CODE = 2048, /* bytes inside the text that are no code of EIA */
	SERIAL_CAPTURE_PARITY = 4096,  /* ISO is set, and a few bytes have odd parity: damage */
	SERIAL_CAPTURE_MARK = 8192,    /* mark parity in bit 8: wrong framing */
	SERIAL_CAPTURE_DEVICE = 16384, /* DC1..DC4 in a line of the text: a damaged character */
};

/* The line is set otherwise than the control. */
enum {
	SERIAL_CAPTURE_FRAMING = SERIAL_CAPTURE_EVEN | SERIAL_CAPTURE_ODD | SERIAL_CAPTURE_NOISE |
	                         SERIAL_CAPTURE_EIA | SERIAL_CAPTURE_ISO | SERIAL_CAPTURE_MARK,
};

/* With one of these the text must not be taken for the control's program. */
enum {
	SERIAL_CAPTURE_UNUSABLE = SERIAL_CAPTURE_DAMAGED | SERIAL_CAPTURE_NO_CODE |
	                          SERIAL_CAPTURE_PARITY | SERIAL_CAPTURE_DEVICE |
	                          SERIAL_CAPTURE_FRAMING,
};

/* Zero-initialise, or fill by serial_capture_read. */
struct serial_capture {
	uint32_t findings;     /* serial_capture_finding */
	uint64_t before;       /* characters before the first % that are no filler */
	struct canonical text; /* from the first % on, parity and device controls taken off, EIA
	                          turned into ISO 646; empty with NOISE, EIA and ISO. What is no
	                          code of EIA, of wrong parity in ISO, or a device control in a
	                          line with text, is NUL in it */
};

/*
 * Read raw (size bytes, 1 or more) with its parity counts. code: the line's; with ISO even parity
 * in bit 8 is right. opened, opened_at: whether and where in raw the first % is.
 * closed: a closing % came. Returns 0 and the caller frees with serial_capture_free, or -1 when
 * memory ran out (*c is then empty).
 */
int serial_capture_read(struct serial_capture *c, const uint8_t *raw, size_t size,
    const struct iso_parity *parity, const struct serial_code *code, bool opened, size_t opened_at,
    bool closed);

/*
 * Of several findings the one that a person is told: the first that makes a text no program, wrong
 * settings before damage before a missing %. 0 when there is no such finding.
 */
uint32_t serial_capture_worst(uint32_t findings);

/* Free and zero. */
void serial_capture_free(struct serial_capture *c);

/* For a person, about one finding (one bit): what was seen and what to do. A constant string, never
 * NULL. */
const char *serial_capture_says(enum serial_capture_finding finding);

#endif
