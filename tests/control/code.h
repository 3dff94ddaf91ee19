/*
 * Characters as a control's reader and punch know them: ISO 646 in seven bits; ISO 840 / EIA
 * RS-358, which adds an even parity bit as the eighth; and EIA RS-244-A, eight tracks with odd
 * parity, with ER = 0B, TAB = 3E, UC = 7C, LC = 7A.
 */
#ifndef BENCH_CODE_H
#define BENCH_CODE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Device controls, ISO 646 / ECMA-6 positions 1/1 to 1/4. */
enum {
	CODE_NUL = 0x00,
	CODE_LF = 0x0a,
	CODE_CR = 0x0d,
	CODE_DC1 = 0x11, /* start reader; go on */
	CODE_DC2 = 0x12, /* start punch */
	CODE_DC3 = 0x13, /* stop reader; hold */
	CODE_DC4 = 0x14, /* stop punch */
	CODE_DEL = 0x7f,
};

enum code {
	CODE_ASCII = 0, /* seven bits, bit 8 is clear */
	CODE_ISO,       /* seven bits, bit 8 makes the number of ones even */
	CODE_EIA,       /* codes of its own; device controls as ISO has them */
};

/* The byte that stands for the seven-bit character c in the given code; EIA: 0 when it has none. */
uint8_t code_send(enum code code, uint8_t c);

/*
 * Reads a byte. *c gets the seven-bit character in any case: of a shift in EIA DEL, of what is no
 * character of it '?'. False when the byte does not belong to the code: odd parity (ISO), bit 8 set
 * (ASCII), no character (EIA).
 */
bool code_take(enum code code, uint8_t byte, uint8_t *c);

#endif
