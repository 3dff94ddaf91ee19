/*
 * A port that checks parity and framing says of each wrong character that it is one, in the stream:
 * FF 00 X stands for a wrong X, FF 00 00 for a break, FF FF for the character FF. Source: POSIX.1,
 * termios.h, INPCK and PARMRK. Many adapters count such errors nowhere else.
 */
#ifndef SERIAL_MARK_H
#define SERIAL_MARK_H

#include <stddef.h>
#include <stdint.h>

/* Zero-initialise. */
struct serial_mark {
	uint8_t seen;   /* bytes of a mark that have come: FF, or FF 00 */
	uint32_t wrong; /* characters that were marked */
	uint32_t breaks;
};

/*
 * Turn n bytes of the stream into the characters that came, wrong ones included, in place, and
 * count. How many characters.
 */
size_t serial_mark_take(struct serial_mark *m, uint8_t *bytes, size_t n);

#endif
