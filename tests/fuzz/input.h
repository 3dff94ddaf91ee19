/* What the fuzz targets share: the input, eaten from its front, and what must hold of output. */
#ifndef INPUT_H
#define INPUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The entry of every target; always 0. libFuzzer or replay.c calls it. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct input {
	const uint8_t *at;
	size_t left;
};

/* The next byte, 0 at the end. */
uint8_t input_byte(struct input *in);

/* A number of any size, small ones more often. */
uint32_t input_number(struct input *in);

/* The bytes up to the next 01, which is dropped, or the rest: so that inputs stay readable. */
struct input input_part(struct input *in);

/* As input_part, as a string that the caller frees; it ends early where the part has a NUL. */
char *input_string(struct input *in);

/* A step from 1 to most, drawn from *seed, which must not be 0: for feeding in pieces. */
size_t input_step(uint32_t *seed, size_t most);

/* abort() unless so. */
void must(bool holds);

/*
 * n bytes that may be shown on a terminal: well-formed UTF-8 without control characters (C0, DEL,
 * C1), but for line ends.
 */
void must_be_plain(const char *s, size_t n);

#endif
