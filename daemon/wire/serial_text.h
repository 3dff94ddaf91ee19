/*
 * A program as the characters that go on the line: DC2, leader, blocks with the control's end of
 * block, trailer, DC4, each in the line's code. Handed out one by one; nothing of it is copied.
 *
 * A channel word goes as a block of its own right behind the opening % and in front of any program
 * number, or first of all where the program has no %. It is none of the program's bytes or blocks.
 */
#ifndef SERIAL_TEXT_H
#define SERIAL_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "serial_code.h"
#include "yoke/line.h"

/* Why a program cannot go on this line. Found before the first character. */
enum serial_text_fault {
	SERIAL_TEXT_OK = 0,
	SERIAL_TEXT_MEMORY,   /* no memory */
	SERIAL_TEXT_SETTINGS, /* baud not 1..SERIAL_PACE_BAUD_MAX, or reserve or stall_ms 0 */
	SERIAL_TEXT_EMPTY,    /* no character, or nothing but NUL */
	SERIAL_TEXT_HIGH,     /* a byte over 0x7F where the line has 7 bits */
	SERIAL_TEXT_DEVICE,   /* DC1..DC4, with or without bit 8: the control would take it as an
	                         order */
	SERIAL_TEXT_NUL,      /* NUL inside the text */
	SERIAL_TEXT_NO_CODE,  /* a character that EIA does not have */
	SERIAL_TEXT_LOWER,    /* a small letter in EIA */
	SERIAL_TEXT_CODES,    /* EIA with 7 bits, or settings of its codes that contradict */
	SERIAL_TEXT_WORD,     /* the channel word cannot be a block on this line */
};

struct serial_text_refusal {
	enum serial_text_fault fault;
	uint64_t
	    offset; /* of the byte in the program, from 0; with HIGH, DEVICE, NUL, NO_CODE, LOWER */
	uint64_t line; /* from 1 */
	uint8_t byte;
};

/* Plain data; fields are read by others, changed here only. */
struct serial_text {
	const uint8_t *program;
	size_t at;    /* next program byte; what is before it was handed out */
	size_t begin; /* first byte that is not NUL: filler at the ends is replaced by our leader
	                 and trailer */
	size_t
	    body_end; /* after the closing %, before it when patient, or end when there is none:
	                 what follows is no loss */
	size_t end;
	uint64_t block, blocks;         /* ends of block handed out, and in all */
	uint64_t character, characters; /* characters handed out, and in all */
	uint32_t leader, trailer;       /* still to come */
	bool dc2, dc4;                  /* still to come */
	struct serial_code code;
	bool block_ended; /* the last character handed out ended a block and more of the program
	                     follows */
	uint8_t eob_at;   /* characters of the present end of block handed out */
	enum line_eob eob;
	char word[LINE_WORD_MAX + 1]; /* the channel word, "" for none or when it was handed out */
	size_t word_at;               /* in front of this byte of the program */
	bool word_splits;             /* an end of block goes before it: a number stands behind the % */
	size_t word_out;              /* characters of it handed out, ends of block included */
};

/*
 * Look through the whole program and set up. A line end is LF or CR LF; every other byte goes as it
 * is, in the line's code. The program (size bytes) stays the caller's, unchanged, and must live as
 * long as t. Returns 0, or -1 with *refusal filled.
 */
int serial_text_init(struct serial_text *t, const struct line_serial *settings, const void *program,
    size_t size, struct serial_text_refusal *refusal);

/* The next character, or -1 when all were handed out. */
int serial_text_next(struct serial_text *t);

/*
 * True when the control can do without what is left: line ends after the closing %, trailer, DC4. A
 * control that executes while it reads is done with the block in front of that %: common practice,
 * it stops its reader at M30.
 */
bool serial_text_in_tail(const struct serial_text *t);

/* For a person: what is wrong and what to do. A constant string, never NULL. */
const char *serial_text_says(enum serial_text_fault fault);

#endif
