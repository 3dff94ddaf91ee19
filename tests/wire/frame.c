#include "frame.h"

#include <stdbool.h>

static bool has_parity(enum line_framing f)
{
	return f != LINE_8N1 && f != LINE_8N2;
}

/* The parity bit that belongs to n data bits. */
static uint32_t parity(enum line_framing f, uint32_t data, unsigned n)
{
	uint32_t ones = f == LINE_7O1;

	for (unsigned i = 0; i < n; i++)
		ones += data >> i & 1;
	return ones & 1;
}

uint32_t frame_send(enum line_framing f, uint8_t byte)
{
	unsigned n = line_seven(f) ? 7 : 8;
	uint32_t data = byte & ((1u << n) - 1), bits = data << 1;

	n++;
	if (has_parity(f)) {
		bits |= parity(f, data, n - 1) << n;
		n++;
	}
	return bits | ~0u << n;
}

enum frame_fault frame_take(enum line_framing f, uint32_t bits, uint8_t *byte)
{
	unsigned n = line_seven(f) ? 7 : 8;
	uint32_t data = bits >> 1 & ((1u << n) - 1);
	unsigned stop = 1 + n + has_parity(f);

	if (bits & 1)
		return FRAME_NONE;
	*byte = (uint8_t)data;
	/* Ports look at the first stop bit only. */
	if (!(bits >> stop & 1))
		return FRAME_STOP;
	if (has_parity(f) && (bits >> (n + 1) & 1) != parity(f, data, n))
		return FRAME_PARITY;
	return FRAME_OK;
}
