/*
 * The line's code, whichever it is: characters to bytes, and bytes to characters as far as position
 * and control characters go.
 */
#ifndef SERIAL_CODE_H
#define SERIAL_CODE_H

#include <stdbool.h>
#include <stdint.h>
#include "eia.h"
#include "yoke/line.h"

/* Plain data; filled by serial_code_init. */
struct serial_code {
	enum line_code kind;
	struct eia eia; /* with LINE_CODE_EIA only */
};

/* Set up for a line's code and EIA settings. 0, or -1 when the EIA settings contradict one another.
 */
int serial_code_init(struct serial_code *c, const struct line_serial *settings);

/* The byte on the line for a character, or -1 when the code has none. DC1..DC4 and NUL have one in
 * each code. */
int serial_code_byte(const struct serial_code *c, uint8_t character);

/*
 * The character of a byte that came. ASCII and ISO: without its bit 8, right parity or not. EIA: a
 * shift is DEL, since both are ignored; a byte that is no EIA code is '?'; 13 hex is the digit 3
 * and only 93 hex is DC3.
 */
uint8_t serial_code_character(const struct serial_code *c, uint8_t byte);

/* True for a byte whose character is neither filler nor end of block nor blank. */
bool serial_code_is_text(const struct serial_code *c, uint8_t byte);

#endif
