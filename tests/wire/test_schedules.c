/*
 * Goal: 100,000 schedules each for the sender and the receiver, on a simulated clock: fed byte by
 * byte, in pieces and at once they say and do the same, whatever else happens to the line
 * meanwhile; and left alone each comes to an end.
 */
#include "wire_test.h"

#include <stdbool.h>
#include <string.h>
#include "serial_receive.h"
#include "serial_send.h"

enum { SCHEDULES = 100000, STEPS = 12, MACHINES = 3, OUT = 256 };

static const char PROGRAM[] = "%\nO4417(BUSH)\nN10 G0 X40. Z3.\nN20 G1 Z-12.5 F0.1\nM30\n%\n";

static bool once_in(uint32_t *seed, unsigned n)
{
	return chance(seed) % n == 0;
}

static struct line_serial settings_of(uint32_t *seed)
{
	struct line_serial s = {
	    .baud = 300u << chance(seed) % 6,
	    .code = (enum line_code)(chance(seed) % 3),
	    .eob = (enum line_eob)(chance(seed) % 3),
	    .flow = (enum line_flow)(chance(seed) % (LINE_FLOW_NONE + 1)),
	    .wait_dc1 = chance(seed) & 1,
	    .dc2_dc4 = once_in(seed, 4),
	    .leader = chance(seed) % 8,
	    .trailer = chance(seed) % 40,
	    .char_pause = once_in(seed, 6) ? 3 : 0,
	    .block_pause = chance(seed) % 3 * 10,
	    .reserve = 1 + chance(seed) % 32,
	    .first_ms = 1 + chance(seed) % 2000,
	    .stall_ms = 1 + chance(seed) % 400,
	    .total_ms = once_in(seed, 4) ? 1 + chance(seed) % 2000 : 0,
	    .patient = once_in(seed, 8),
	    .read_back_ms = 1 + chance(seed) % 500,
	    .silence_ms = 1 + chance(seed) % 100,
	};

	s.framing = s.code == LINE_CODE_EIA ? LINE_8N2 : LINE_7E1;
	return s;
}

/* How many bytes each of the three is given at a time: all, a few, one. */
static size_t piece(unsigned machine, size_t left, uint32_t *seed)
{
	return machine == 0 ? left : machine == 1 ? 1 + chance(seed) % left : 1;
}

/* Something happens to the line of all three alike. */
static void happens(struct serial_send *const m[MACHINES], uint64_t now, uint32_t *seed)
{
	unsigned what = chance(seed) % 64, n = chance(seed) % 40;
	bool on = chance(seed) & 1;

	for (unsigned k = 0; k < MACHINES; k++) {
		if (what < 8)
			serial_send_line(m[k], now, on);
		else if (what < 14)
			serial_send_watched(m[k], now, on);
		else if (what < 26)
			serial_send_queued(m[k], now, n);
		else if (what < 30)
			serial_send_arrived(m[k], now, n);
		else if (what < 32)
			serial_send_left(m[k], now);
		else if (what == 32)
			serial_send_break(m[k], now);
		else if (what == 33)
			serial_send_lost(m[k], now);
		else if (what == 34)
			serial_send_cancel(m[k], now);
	}
}

static void babble(struct serial_send *const m[MACHINES], uint64_t now, uint32_t *seed)
{
	static const uint8_t words[] = {0x11, 0x91, 0x11, 0x13, 0x93, 0x00, 0x12, 0x14, 'x', 0xFF};
	uint8_t bytes[8];
	size_t n = chance(seed) % sizeof(bytes);

	for (size_t i = 0; i < n; i++)
		bytes[i] = words[chance(seed) % sizeof(words)];
	for (unsigned k = 0; k < MACHINES; k++)
		for (size_t at = 0, some; at < n; at += some) {
			some = piece(k, n - at, seed);
			serial_send_feed(m[k], now, bytes + at, some);
		}
}

static void same_outcome(const struct serial_send_outcome *a, const struct serial_send_outcome *b)
{
	assert_int_equal(a->state, b->state);
	assert_int_equal(a->reason, b->reason);
	assert_true(a->bytes == b->bytes && a->total == b->total);
	assert_true(a->block == b->block && a->blocks == b->blocks);
	assert_true(a->characters == b->characters && a->held_ms == b->held_ms);
	assert_true(a->holds == b->holds && a->after_dc3 == b->after_dc3 && a->other == b->other);
	assert_true(a->held == b->held && a->cut_tail == b->cut_tail);
}

/* All three give the same and say the same. */
static struct serial_send_outcome same_sent(struct serial_send *const m[MACHINES], uint64_t now)
{
	uint8_t out[MACHINES][OUT];
	struct serial_send_outcome o[MACHINES];
	size_t n[MACHINES];

	for (unsigned k = 0; k < MACHINES; k++) {
		n[k] = serial_send_take(m[k], out[k], OUT, now);
		serial_send_tick(m[k], now);
		serial_send_outcome(m[k], &o[k]);
		assert_int_equal(n[k], n[0]);
		assert_memory_equal(out[k], out[0], n[0]);
		same_outcome(&o[k], &o[0]);
		assert_true(serial_send_deadline(m[k]) == serial_send_deadline(m[0]));
	}
	return o[0];
}

static void senders(void **state)
{
	unsigned ends[SERIAL_SEND_BREAK + 1] = {0};
	uint32_t seed = 840;

	for (unsigned round = 0; round < SCHEDULES; round++) {
		struct line_serial s = settings_of(&seed);
		struct serial_send *m[MACHINES];
		struct serial_text_refusal no;
		struct serial_send_outcome o;
		uint64_t now = chance(&seed), at;

		for (unsigned k = 0; k < MACHINES; k++) {
			m[k] = serial_send_new(&s, PROGRAM, strlen(PROGRAM), now, &no);
			assert_non_null(m[k]);
		}
		for (unsigned step = 0; step < STEPS; step++) {
			now += chance(&seed) % 60;
			happens(m, now, &seed);
			babble(m, now, &seed);
			same_sent(m, now);
		}
		/* Left alone. A patient one, and one that is asked to wait, end by a person. */
		for (unsigned k = 0; k < MACHINES; k++)
			serial_send_queued(m[k], now, 0);
		while ((at = serial_send_deadline(m[0])) != SERIAL_SEND_NEVER) {
			now = at > now ? at : now;
			same_sent(m, now);
			/* A caller would spin else. */
			assert_true(serial_send_deadline(m[0]) > now);
		}
		o = same_sent(m, now);
		assert_true(o.state >= SERIAL_SEND_DONE || s.patient);
		ends[o.reason]++;
		for (unsigned k = 0; k < MACHINES; k++)
			serial_send_free(m[k]);
	}
	/* Every end that a line can have was met; nobody unplugged a port. */
	for (unsigned reason = 0; reason <= SERIAL_SEND_BREAK; reason++)
		assert_true(ends[reason] > 100 || reason == SERIAL_SEND_UNPLUGGED);
}

static size_t invent(uint8_t *stream, size_t most, const struct line_serial *s, uint32_t *seed)
{
	static const uint8_t iso[] = "%\n\rXM0 \0\x7F\x11\x12\x13\xA5\x8D\xFF\x93O1";
	static const uint8_t eia[] = {0x0b, 0x80, 0x54, 0x13, 0x20, 0x46, 0x01, 0x00, 0x7f, 0x7c,
	    0x6b, 0x11, 0x12, 0x93, 0x03, 0x2f, 0x0a, 0x8a, 0xa5};
	bool is_eia = s->code == LINE_CODE_EIA;
	const uint8_t *alphabet = is_eia ? eia : iso;
	size_t of = is_eia ? sizeof(eia) : sizeof(iso), n = chance(seed) % most;

	if (chance(seed) & 1)
		of = 7; /* text alone */
	for (size_t i = 0; i < n; i++)
		stream[i] = once_in(seed, 64) ? 0x14 : alphabet[chance(seed) % of];
	return n;
}

static void same_received(struct serial_receive *const r[MACHINES])
{
	struct serial_receive_outcome o[MACHINES];

	for (unsigned k = 0; k < MACHINES; k++) {
		serial_receive_outcome(r[k], &o[k]);
		assert_int_equal(o[k].state, o[0].state);
		assert_int_equal(o[k].reason, o[0].reason);
		assert_int_equal(o[k].findings, o[0].findings);
		assert_int_equal(o[k].usable, o[0].usable);
		assert_int_equal(o[k].before, o[0].before);
		assert_int_equal(o[k].after, o[0].after);
		assert_int_equal(o[k].damage_line, o[0].damage_line);
		assert_memory_equal(&o[k].parity, &o[0].parity, sizeof(o[0].parity));
		assert_int_equal(o[k].raw_size, o[0].raw_size);
		assert_int_equal(o[k].text_size, o[0].text_size);
		if (o[0].raw_size > 0)
			assert_memory_equal(o[k].raw, o[0].raw, o[0].raw_size);
		if (o[0].text_size > 0)
			assert_memory_equal(o[k].text, o[0].text, o[0].text_size);
		assert_true(serial_receive_deadline(r[k]) == serial_receive_deadline(r[0]));
	}
}

static void receivers(void **state)
{
	unsigned ends[SERIAL_RECEIVE_CANCELLED + 1] = {0}, usable = 0;
	uint32_t seed = 6983;

	for (unsigned round = 0; round < SCHEDULES; round++) {
		struct line_serial s = settings_of(&seed);
		struct serial_receive *r[MACHINES];
		struct serial_receive_outcome o;
		uint64_t now = chance(&seed), at;

		for (unsigned k = 0; k < MACHINES; k++) {
			r[k] = serial_receive_new(&s, 60, now);
			assert_non_null(r[k]);
		}
		for (unsigned step = 0; step < 6; step++) {
			uint8_t stream[24];
			size_t n = invent(stream, sizeof(stream), &s, &seed);
			unsigned what = chance(&seed) % 64;

			now += chance(&seed) % 60;
			for (unsigned k = 0; k < MACHINES; k++) {
				for (size_t i = 0, some; i < n; i += some) {
					some = piece(k, n - i, &seed);
					serial_receive_feed(r[k], now, stream + i, some);
				}
				serial_receive_tick(r[k], now);
				if (what == 0)
					serial_receive_lost(r[k], now);
				if (what == 1)
					serial_receive_cancel(r[k], now);
			}
			same_received(r);
		}
		while ((at = serial_receive_deadline(r[0])) != SERIAL_RECEIVE_NEVER) {
			assert_true(at >= now || now - at < 60);
			now = at > now ? at : now;
			for (unsigned k = 0; k < MACHINES; k++)
				serial_receive_tick(r[k], now);
			same_received(r);
		}
		serial_receive_outcome(r[0], &o);
		assert_true(o.state >= SERIAL_RECEIVE_DONE);
		ends[o.reason]++;
		usable += o.usable && !serial_capture_worst(o.findings);
		for (unsigned k = 0; k < MACHINES; k++)
			serial_receive_free(r[k]);
	}
	for (unsigned reason = 0; reason <= SERIAL_RECEIVE_CANCELLED; reason++)
		assert_true(ends[reason] > 100 || reason == SERIAL_RECEIVE_MEMORY);
	assert_true(usable > 1000);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(senders),
	    cmocka_unit_test(receivers),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
