#include "wire_input.h"

#include <stdio.h>

struct line_serial wire_input_settings(struct input *in)
{
	uint8_t bits = input_byte(in), framing;
	struct line_serial l = {
	    .code = bits & 32  ? LINE_CODE_EIA
	            : bits & 1 ? LINE_CODE_ISO
	                       : LINE_CODE_ASCII,
	    .wait_dc1 = bits & 2,
	    .dc2_dc4 = bits & 4,
	};

	l.baud = input_number(in) * 150;
	framing = input_byte(in);
	l.framing = (enum line_framing)(framing % (LINE_8E1 + 1));
	l.flow = (enum line_flow)(framing / (LINE_8E1 + 1) % (LINE_FLOW_NONE + 1));
	l.patient = framing >= 128;
	l.eob = (enum line_eob)(input_byte(in) % (LINE_EOB_LFCRCR + 1));
	l.leader = input_byte(in);
	l.trailer = input_byte(in);
	l.reserve = input_number(in);
	l.first_ms = input_number(in);
	l.stall_ms = input_number(in);
	l.read_back_ms = input_number(in);
	l.silence_ms = input_number(in);
	if (bits & 8)
		l.block_pause = input_number(in);
	if (bits & 64)
		l.char_pause = input_byte(in);
	if (bits & 128) {
		uint8_t which = input_byte(in);

		l.eia[which % LINE_EIA_CODES] = input_byte(in);
		if (which & 128)
			snprintf(l.address, sizeof l.address, "rfc2217://192.0.2.7:1");
	}
	if (bits & 16)
		l.total_ms = input_number(in);
	if (bits & 4)
		snprintf(l.channel_word, sizeof l.channel_word, "CH 2");
	return l;
}

const uint8_t *wire_input_bytes(struct input *in, size_t *n)
{
	const uint8_t *at = in->at;

	*n = *n < in->left ? *n : in->left;
	in->at += *n;
	in->left -= *n;
	return at;
}
