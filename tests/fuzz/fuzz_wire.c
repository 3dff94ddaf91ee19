/*
 * Goal: no program, no settings, no order of calls and nothing that a control can send trips the
 * wire's machines, and what they promise holds: never more than the reserve handed out at once, the
 * line's text is what was taken, and a canonical form is its own canonical form.
 */
#include <string.h>
#include "canonical.h"
#include "channel_word.h"
#include "input.h"
#include "serial_receive.h"
#include "serial_send.h"

/* One after the other, so that an input means the same to every compiler. */
static struct line_serial settings_of(struct input *in)
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
	if (bits & 128)
		l.eia[input_byte(in) % LINE_EIA_CODES] = input_byte(in);
	if (bits & 16)
		l.total_ms = input_number(in);
	if (bits & 4)
		strcpy(l.channel_word, "CH 2");
	return l;
}

/* All that a caller may do, in any order. */
static void send_some(struct input *in, const struct line_serial *settings, struct serial_send *s)
{
	struct serial_send_outcome o;
	struct serial_send_progress p;
	uint64_t now = 0, last = 0;
	uint8_t out[256];
	size_t got;

	while (in->left > 0) {
		uint8_t what = input_byte(in);

		now += what >> 3;
		switch (what & 7) {
		case 0:
		case 1:
			got = serial_send_ready(s, now);
			must(got <= settings->reserve);
			must(serial_send_take(s, out, sizeof(out), now) <= got);
			break;
		case 2:
			serial_send_tick(s, now);
			break;
		case 3:
			serial_send_feed(s, now, in->at, in->left < 4 ? in->left : 4);
			break;
		case 4:
			(what & 8 ? serial_send_unacknowledged : serial_send_queued)(
			    s, now, input_byte(in));
			break;
		case 5:
			if (serial_send_deadline(s) != SERIAL_SEND_NEVER &&
			    serial_send_deadline(s) > now)
				now = serial_send_deadline(s);
			break;
		case 6:
			serial_send_progress(s, now, &p);
			must(p.bytes <= p.total && p.block <= p.blocks);
			break;
		case 7:
			if (what == 0xFF)
				serial_send_lost(s, now);
			if (what == 0xF7)
				serial_send_cancel(s, now);
			if (what == 0xEF || what == 0xE7)
				serial_send_line(s, now, what == 0xE7);
			if (what == 0xDF || what == 0xD7)
				serial_send_watched(s, now, what == 0xD7);
			if (what == 0xCF)
				serial_send_break(s, now);
			if (what == 0xC7)
				serial_send_unplugged(s, now);
			break;
		}
		serial_send_outcome(s, &o);
		must(o.bytes >= last && o.bytes <= o.total);
		must((o.reason == SERIAL_SEND_OK) == (o.state != SERIAL_SEND_FAILED));
		last = o.bytes;
	}
	/* Left alone, it ends: each deadline is a step towards an end. */
	serial_send_queued(s, now, 0);
	for (int steps = 0; settings->first_ms > 0 && serial_send_deadline(s) != SERIAL_SEND_NEVER;
	     steps++) {
		must(steps < 100000);
		now = serial_send_deadline(s) > now ? serial_send_deadline(s) : now;
		serial_send_tick(s, now);
	}
}

static void send(struct input *in)
{
	struct line_serial settings = settings_of(in);
	size_t n = input_byte(in);
	struct serial_text_refusal refusal;
	struct serial_send *s;
	const uint8_t *program;

	n = n < in->left ? n : in->left;
	program = in->at;
	in->at += n;
	in->left -= n;
	s = serial_send_new(&settings, program, n, 0, &refusal);
	must((s != NULL) == (refusal.fault == SERIAL_TEXT_OK));
	if (!s) {
		must(refusal.offset <= n);
		return;
	}
	send_some(in, &settings, s);
	serial_send_free(s);
}

static void receive(struct input *in)
{
	struct line_serial settings = settings_of(in);
	struct serial_receive *r = serial_receive_new(&settings, 1 + input_number(in) % 4096, 0);
	struct serial_receive_outcome o;
	uint64_t now = 0;

	if (!r)
		return;
	while (in->left > 0) {
		size_t n = input_byte(in);

		n = n < in->left ? n : in->left;
		serial_receive_feed(r, now, in->at, n);
		in->at += n;
		in->left -= n;
		now += input_byte(in);
		serial_receive_tick(r, now);
	}
	serial_receive_tick(r, UINT64_MAX);
	must(serial_receive_deadline(r) == SERIAL_RECEIVE_NEVER);
	serial_receive_outcome(r, &o);
	must(o.text_size <= o.raw_size + 1);
	must(!o.usable || o.state == SERIAL_RECEIVE_DONE);
	serial_receive_free(r);
}

/* A word is taken off once behind each %, and nothing else is. */
static void words(const struct canonical *text)
{
	static const char *const word[] = {"M30", "O1"};
	struct channel_word w;

	if (channel_word_read(&w, text->bytes, text->size, word, 2) < 0)
		return;
	must(w.size <= text->size);
	must((w.first == CHANNEL_WORD_NONE) == (w.size == text->size));
	must(w.first != CHANNEL_WORD_NONE || w.second == CHANNEL_WORD_NONE);
	must(w.first == CHANNEL_WORD_NONE || w.first != w.second);
	channel_word_free(&w);
}

static void canonical(struct input *in)
{
	struct canonical once, twice;

	if (canonical_make(&once, in->at, in->left) < 0)
		return;
	must(once.size <= in->left + 1);
	if (once.size > 0) {
		must(once.bytes[once.size - 1] == '\n');
		must(canonical_make(&twice, once.bytes, once.size) == 0);
		must(canonical_difference(&once, &twice) == 0);
		canonical_free(&twice);
		words(&once);
	}
	canonical_free(&once);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};

	switch (input_byte(&in) % 3) {
	case 0:
		send(&in);
		break;
	case 1:
		receive(&in);
		break;
	case 2:
		canonical(&in);
		break;
	}
	return 0;
}
