/*
 * The EIA code of tape and line (EIA RS-244-A): eight tracks, an odd number of holes in each
 * character, track 5 making it odd. Digits in tracks 1 to 4, zones in 6 and 7, the end of block
 * alone in track 8. Capital letters only; there is no code for CR, nor for several signs.
 *
 * Digits, letters, + - . / , blank, parentheses, end of block and delete are as published tables
 * and controls agree on. The rest (ER, which stands for %, TAB, BS, &, UC, LC) is settled less well
 * or not at all, hence settings.
 */
#ifndef EIA_H
#define EIA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/line.h"

enum {
	EIA_BLANK = 0x00,  /* tape without a hole: filler outside, an error inside a program */
	EIA_DELETE = 0x7F, /* a rubbed-out place: ignored */
	EIA_EOB = 0x80,
	EIA_DC3 = 0x93, /* as ISO punches it, four holes; 13 hex is the digit 3 */
};

/* What eia_decode says of bytes that are no character. */
enum {
	EIA_NOTHING = -1, /* no code of EIA: even, or not in use */
	EIA_SHIFT = -2,   /* UC or LC: carries no character of a program */
};

/* Why codes cannot be set so. */
enum eia_fault {
	EIA_OK = 0,
	EIA_EVEN,  /* an even number of holes */
	EIA_TAKEN, /* another character has it, or it is the end of block, delete, or ISO's LF,
	              which tells the two codes apart */
};

/* Both directions as tables. Filled by eia_init, read through the functions below. */
struct eia {
	uint8_t to[128];   /* byte of each character; EIA_BLANK for none */
	int16_t from[256]; /* character, EIA_NOTHING or EIA_SHIFT */
};

/*
 * Fill the tables. set: the byte of each of enum line_eia, 0 for the default, LINE_EIA_NONE for
 * "not on this control". Returns EIA_OK, or what is wrong with entry *which of set (untouched when
 * all is well, NULL is allowed).
 */
enum eia_fault eia_init(struct eia *e, const uint8_t set[LINE_EIA_CODES], unsigned *which);

/* The name of an entry of enum line_eia, as it is written in the configuration. */
const char *eia_name(unsigned which);

/* The byte of a character (ISO 646; LF is the end of block, % is ER), or EIA_NOTHING. */
int eia_encode(const struct eia *e, uint8_t character);

/* The character of a byte (NUL for blank, DEL for delete), EIA_NOTHING or EIA_SHIFT. */
int eia_decode(const struct eia *e, uint8_t byte);

/*
 * True for DC1, DC2, DC3 and DC4 on a line that speaks EIA. All have an even number of holes, so
 * none is a character (ISO 646 positions 1/1 to 1/4; DC3 as ISO punches it).
 */
bool eia_is_device(uint8_t byte);

/* Counts for telling EIA from ISO. Zero-initialise. Filler and device controls are left out. */
struct eia_counts {
	uint64_t bytes;
	uint64_t odd;      /* with an odd number of holes */
	uint64_t high;     /* with track 8 */
	uint64_t eia_ends; /* 80 hex: EIA's end of block */
	uint64_t iso_ends; /* LF, with or without parity: no code of EIA */
};

enum eia_guess {
	EIA_GUESS_NEITHER = 0, /* too little, or noise */
	EIA_GUESS_EIA,
	EIA_GUESS_ISO, /* ISO, or ASCII without parity */
};

/* Add n bytes to the counts. */
void eia_count(struct eia_counts *c, const uint8_t *bytes, size_t n);

/*
 * Which code it is: parity and end of block must agree. Seven in eight must have EIA's parity, so
 * that single wrong bits do not hide it. ISO's LF is told without parity, since EIA has no such
 * code.
 */
enum eia_guess eia_guess(const struct eia_counts *c);

#endif
