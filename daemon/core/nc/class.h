/*
 * What each byte is to the reader of blocks. Order matters: from NC_C_DIGIT on a byte may go on
 * with a number.
 */
#ifndef NC_CLASS_H
#define NC_CLASS_H

#include <stdint.h>

enum nc_class {
	NC_C_LETTER, /* A-Z and ':' */
	NC_C_BLANK,
	NC_C_END,   /* CR, LF */
	NC_C_LOWER, /* a-z */
	NC_C_OPEN,  /* ( */
	NC_C_NOTE,  /* ; */
	NC_C_SLASH,
	NC_C_PERCENT,
	NC_C_HASH,
	NC_C_COMMA,
	NC_C_ODD,  /* belongs to words and expressions, but never begins one: + - * = [ ] ) */
	NC_C_FILL, /* NUL, DEL, Ctrl-Z */
	NC_C_HIGH, /* bit 8 set */
	NC_C_BAD,  /* everything else */
	NC_C_DIGIT,
	NC_C_POINT,
	NC_C_TAB,
};

/* Class of each byte. */
extern const uint8_t nc_class[256];

#endif
