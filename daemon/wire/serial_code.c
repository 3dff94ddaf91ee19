#include "serial_code.h"

#include "iso.h"

int serial_code_init(struct serial_code *c, const struct line_serial *settings)
{
	c->kind = settings->code;
	if (c->kind != LINE_CODE_EIA)
		return 0;
	return eia_init(&c->eia, settings->eia, NULL) == EIA_OK ? 0 : -1;
}

int serial_code_byte(const struct serial_code *c, uint8_t character)
{
	switch (c->kind) {
	case LINE_CODE_ISO:
		return iso_encode(character);
	case LINE_CODE_EIA:
		/* The line's own controls are no part of the code: they go as ISO punches them. */
		return iso_is_device(character) ? iso_encode(character)
		                                : eia_encode(&c->eia, character);
	case LINE_CODE_ASCII:
		break;
	}
	return character;
}

uint8_t serial_code_character(const struct serial_code *c, uint8_t byte)
{
	int character;

	if (c->kind != LINE_CODE_EIA || eia_is_device(byte))
		return iso_decode(byte);
	character = eia_decode(&c->eia, byte);
	if (character == EIA_SHIFT)
		return ISO_DEL;
	return character == EIA_NOTHING ? '?' : (uint8_t)character;
}

bool serial_code_is_text(const struct serial_code *c, uint8_t byte)
{
	uint8_t character = serial_code_character(c, byte);

	return !iso_is_filler(character) && character != ISO_LF && character != ISO_CR &&
	       character != ' ' && character != '\t';
}
