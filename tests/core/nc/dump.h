/* What the reader hands out, as text to compare with. */
#ifndef DUMP_H
#define DUMP_H

#include "nc.h"
#include "yoke/text.h"

/*
 * One line of text per block: "L1 @0 /2 G1 X12.5. Z-3* {COMMENT} !number@5x1 %", where a number is
 * exact with its point as written, * stands for computed, a name stands in < >, a call of MEET is
 * (ARGUMENTS)@COLUMN, and ! begins a fault with its kind, column and count. Then a line with the shape. step: bytes per feed, 0 for all at once.
 */
void dump_read(struct text *t, const void *bytes, size_t n, size_t step);

/* Only the words of the first block of this line: "G0 X0.1234 Y7". A static buffer. */
const char *dump_words(const char *line);

/* Only its faults: "number@5x1 tab@2x3", kinds in the order of their first occurrence. A static
 * buffer. */
const char *dump_faults(const char *line);

/* The shape of these bytes, fed at once. */
struct nc_shape dump_shape(const void *bytes, size_t n);

#endif
