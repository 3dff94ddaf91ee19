#include "wave.h"

#include <stdbool.h>

/* Time in bits of the sender, times SCALE, and in the same unit the bit of the other side. */
enum { SCALE = 1000 };

struct wave {
	const struct wave_side *sends;
	const uint8_t *bytes;
	size_t n;
	uint64_t end; /* when the last stop bit is over */
};

/* The level at a time; idle after the end. */
static bool level(const struct wave *w, uint64_t at)
{
	uint64_t bit = at / SCALE, bits = line_bits(w->sends->framing);

	if (at >= w->end)
		return true;
	return frame_send(w->sends->framing, w->bytes[bit / bits]) >> (bit % bits) & 1;
}

/* The first time from at on at which the level is so; the end when it is never. */
static uint64_t edge(const struct wave *w, uint64_t at, bool high)
{
	while (at < w->end && level(w, at) != high)
		at = (at / SCALE + 1) * SCALE;
	return at < w->end ? at : w->end;
}

/* The bits of one character whose start bit begins at `at`, as frame_take wants them. */
static uint32_t sample(const struct wave *w, uint64_t at, uint64_t bit, unsigned bits)
{
	uint32_t found = ~0u;

	for (unsigned i = 0; i < bits; i++)
		if (!level(w, at + i * bit + bit / 2))
			found &= ~(1u << i);
	return found;
}

size_t wave_hear(const struct wave_side *sends, const uint8_t *bytes, size_t n,
    const struct wave_side *hears, struct wave_character *out, size_t most)
{
	struct wave w = {sends, bytes, n, (uint64_t)n * line_bits(sends->framing) * SCALE};
	uint64_t bit = (uint64_t)SCALE * sends->baud / hears->baud, at = 0;
	/* Up to the first stop bit. */
	unsigned parity = hears->framing != LINE_8N1 && hears->framing != LINE_8N2;
	unsigned bits = 1 + (line_seven(hears->framing) ? 7 : 8) + parity + 1;
	size_t got = 0;

	while (got < most && (at = edge(&w, at, false)) < w.end) {
		uint32_t found = sample(&w, at, bit, bits);

		out[got].fault = frame_take(hears->framing, found, &out[got].byte);
		if (out[got].fault == FRAME_NONE) {
			at += bit / 2 + 1; /* too short for a start bit */
			continue;
		}
		at += (bits - 1) * bit + bit / 2;
		if (out[got].fault == FRAME_STOP)
			at = edge(&w, at, true);
		got++;
	}
	return got;
}
