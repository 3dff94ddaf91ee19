/* The bench control's own code table, from the rule of ISO 840: track 8 makes the holes even. */
#include "code.h"

static uint8_t even(uint8_t c)
{
	uint8_t seven = c & 0x7f;
	unsigned ones = 0;

	for (unsigned track = 0; track < 7; track++)
		ones += seven >> track & 1;
	return ones & 1 ? seven | 0x80 : seven;
}

uint8_t code_send(enum code code, uint8_t c)
{
	return code == CODE_ISO ? even(c) : c & 0x7f;
}

bool code_take(enum code code, uint8_t byte, uint8_t *c)
{
	*c = byte & 0x7f;
	return code_send(code, byte) == byte;
}
