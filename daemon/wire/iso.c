#include "iso.h"

bool iso_is_device(uint8_t byte)
{
	return byte >= ISO_DC1 && byte <= ISO_DC4;
}

bool iso_is_filler(uint8_t byte)
{
	return byte == ISO_NUL || byte == ISO_DEL || iso_is_device(byte);
}

bool iso_even(uint8_t byte)
{
	byte ^= (uint8_t)(byte >> 4);
	byte ^= (uint8_t)(byte >> 2);
	byte ^= (uint8_t)(byte >> 1);
	return (byte & 1) == 0;
}

uint8_t iso_encode(uint8_t character)
{
	character &= 0x7F;
	return iso_even(character) ? character : character | 0x80;
}

uint8_t iso_decode(uint8_t byte)
{
	return byte & 0x7F;
}

void iso_count(struct iso_parity *p, const uint8_t *bytes, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		p->even += iso_even(bytes[i]);
		p->high += bytes[i] >> 7;
	}
	p->bytes += n;
}

enum iso_framing iso_framing(const struct iso_parity *p)
{
	if (p->bytes == 0)
		return ISO_FRAMING_NONE;
	if (p->high == 0)
		return ISO_FRAMING_CLEAR;
	if (p->even == p->bytes)
		return ISO_FRAMING_EVEN;
	if (p->even == 0)
		return ISO_FRAMING_ODD;
	if (p->high == p->bytes)
		return ISO_FRAMING_MARK;
	return ISO_FRAMING_MIXED;
}

const char *iso_framing_says(enum iso_framing f)
{
	switch (f) {
	case ISO_FRAMING_NONE:
		return "nothing was received: check cable, port and the control's output setting";
	case ISO_FRAMING_CLEAR:
		return "bit 8 is never set: 7-bit characters without a parity bit";
	case ISO_FRAMING_EVEN:
		return "every byte has even parity: the control sends 7 bits with even parity, the "
		       "port reads "
		       "8 without; set the port to 7E1 or 7E2, or the code to ISO";
	case ISO_FRAMING_ODD:
		return "every byte has odd parity: the control sends 7 bits with odd parity (or "
		       "another code), "
		       "the port reads 8 without; set the port to 7O1, or the control to ISO code";
	case ISO_FRAMING_MARK:
		return "bit 8 is always set: the control sends 7 bits with mark parity, the port "
		       "reads 8 without; set the control to even parity and the port to 7E1 or 7E2";
	case ISO_FRAMING_MIXED:
		return "the bytes have no common parity: noise or wrong speed; compare the baud "
		       "rate on both "
		       "sides, check cable and earth";
	}
	return "";
}
