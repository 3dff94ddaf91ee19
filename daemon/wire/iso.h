/*
 * The ISO code of tape and line: ISO 646 in bits 1 to 7, even parity in bit 8 (ISO 840 / EIA
 * RS-358), and what the parity of received bytes says about how the other side's port is set.
 */
#ifndef ISO_H
#define ISO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Control characters with a meaning on the line (ISO 646 / ECMA-6). */
enum {
	ISO_NUL = 0x00,
	ISO_LF = 0x0A,
	ISO_CR = 0x0D,
	ISO_DC1 = 0x11, /* start the reader: go on */
	ISO_DC2 = 0x12, /* punch on */
	ISO_DC3 = 0x13, /* stop the reader: hold */
	ISO_DC4 = 0x14, /* punch off */
	ISO_SUB = 0x1A, /* Ctrl-Z, the end mark of some old file systems */
	ISO_DEL = 0x7F, /* a rubbed-out place on a tape */
};

/* How the parity of a run of bytes looks. */
enum iso_framing {
	ISO_FRAMING_NONE = 0, /* no bytes: nothing can be said */
	ISO_FRAMING_CLEAR,    /* bit 8 never set: no parity bit reached us */
	ISO_FRAMING_EVEN,  /* bit 8 used, every byte even: 7 bits with even parity, or the ISO code
	                    */
	ISO_FRAMING_ODD,   /* bit 8 used, every byte odd: 7 bits with odd parity */
	ISO_FRAMING_MARK,  /* bit 8 always set: 7 bits with mark parity */
	ISO_FRAMING_MIXED, /* bit 8 used, no common parity: noise, wrong speed, or 8-bit text */
};

/* Counts over the bytes seen so far. Zero-initialise. */
struct iso_parity {
	uint64_t bytes;
	uint64_t even; /* bytes with an even number of set bits */
	uint64_t high; /* bytes with bit 8 set */
};

/* True for DC1 to DC4, which steer the line and belong to no text. Bit 8 counts as part of the
 * byte. */
bool iso_is_device(uint8_t byte);

/* True for what may stand before and after a text: NUL, DEL and DC1 to DC4. Bit 8 counts as part of
 * the byte. */
bool iso_is_filler(uint8_t byte);

/* True when the byte has an even number of set bits. */
bool iso_even(uint8_t byte);

/* The 7-bit character with even parity in bit 8. Bit 8 of the argument is ignored. */
uint8_t iso_encode(uint8_t character);

/* The character without its bit 8. */
uint8_t iso_decode(uint8_t byte);

/* Add n bytes to the counts. */
void iso_count(struct iso_parity *p, const uint8_t *bytes, size_t n);

/* What the counts show. */
enum iso_framing iso_framing(const struct iso_parity *p);

/*
 * What bytes that were read through an 8-bit port without parity say, for a person: what was seen,
 * what it means and what to set. A constant string, never NULL.
 */
const char *iso_framing_says(enum iso_framing f);

#endif
