/*
 * Characters as a wave on the wire, and a port that samples it at a speed and framing of its own:
 * so that a wrong speed does here what it does in the shop. A port looks for the edge of a start
 * bit, samples each bit in its middle, and looks at one stop bit; when that is wrong it waits for
 * the line to be idle. Source: common practice of asynchronous ports.
 */
#ifndef WAVE_H
#define WAVE_H

#include <stddef.h>
#include <stdint.h>
#include "frame.h"

struct wave_side {
	enum line_framing framing;
	uint32_t baud;
};

struct wave_character {
	uint8_t byte;
	enum frame_fault fault; /* OK, PARITY or STOP */
};

/*
 * What a port hears of n bytes that another sends without a gap. out has room for most characters,
 * of which those beyond are left out. How many came.
 */
size_t wave_hear(const struct wave_side *sends, const uint8_t *bytes, size_t n,
    const struct wave_side *hears, struct wave_character *out, size_t most);

#endif
