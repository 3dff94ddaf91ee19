/* A line's settings out of an input, for the targets of the wire's machines. */
#ifndef WIRE_INPUT_H
#define WIRE_INPUT_H

#include "input.h"
#include "yoke/line.h"

/* One after the other, so that an input means the same to every compiler. */
struct line_serial wire_input_settings(struct input *in);

/* n bytes off the front, at most what is left: where they are, and how many in *n. */
const uint8_t *wire_input_bytes(struct input *in, size_t *n);

#endif
