/*
 * Goal: no program, no settings, no order of calls and nothing that a control can send trips the
 * sender; never more than the reserve is handed out at once; what is handed out is the program's
 * text from its beginning, and all of it at the end; fed byte by byte it does the same as fed at
 * once; and left alone it ends.
 */
#include <string.h>
#include "serial_send.h"
#include "serial_text.h"
#include "wire_input.h"

/* Two senders that are treated alike, but for the size of what they are fed. */
struct twins {
	struct serial_send *at_once, *single;
	struct serial_text text; /* what must come next */
	const struct line_serial *settings;
};

static void take(struct twins *t, uint64_t now)
{
	uint8_t out[256], same[256];
	size_t ready = serial_send_ready(t->at_once, now);
	size_t n = serial_send_take(t->at_once, out, sizeof(out), now);

	must(ready <= t->settings->reserve && n <= ready);
	must(serial_send_take(t->single, same, sizeof(same), now) == n);
	must(memcmp(out, same, n) == 0);
	for (size_t i = 0; i < n; i++)
		must(serial_text_next(&t->text) == out[i]);
}

static void feed(struct twins *t, uint64_t now, const uint8_t *bytes, size_t n)
{
	serial_send_feed(t->at_once, now, bytes, n);
	serial_send_feed(t->single, now, bytes, 0); /* its clock goes on, too */
	for (size_t i = 0; i < n; i++)
		serial_send_feed(t->single, now, bytes + i, 1);
}

/* What is said of one of them, and the same of the other. */
static struct serial_send_outcome compare(struct twins *t)
{
	struct serial_send_outcome a, b;

	serial_send_outcome(t->at_once, &a);
	serial_send_outcome(t->single, &b);
	must(a.state == b.state && a.reason == b.reason && a.bytes == b.bytes);
	must(a.held_ms == b.held_ms && a.holds == b.holds && a.after_dc3 == b.after_dc3);
	must(a.other == b.other && a.held == b.held && a.cut_tail == b.cut_tail);
	must(serial_send_deadline(t->at_once) == serial_send_deadline(t->single));
	must(a.bytes <= a.total && a.block <= a.blocks);
	must((a.reason == SERIAL_SEND_OK) == (a.state != SERIAL_SEND_FAILED));
	must(a.state != SERIAL_SEND_DONE || a.cut_tail || a.bytes == a.total);
	return a;
}

/* Something that happens to the line, or a person. */
static void happens(struct serial_send *s, uint64_t now, uint8_t what, uint8_t n)
{
	switch (what >> 3) {
	case 0:
	case 1:
		serial_send_line(s, now, what >> 3);
		break;
	case 2:
	case 3:
		serial_send_watched(s, now, what >> 3 == 3);
		break;
	case 4:
		serial_send_break(s, now);
		break;
	case 5:
		serial_send_unplugged(s, now);
		break;
	case 6:
		serial_send_lost(s, now);
		break;
	case 7:
		serial_send_cancel(s, now);
		break;
	case 8:
	case 9:
		serial_send_arrived(s, now, n);
		break;
	case 10:
		serial_send_left(s, now);
		break;
	case 11:
	case 12:
		serial_send_unacknowledged(s, now, n);
		break;
	default:
		serial_send_queued(s, now, n);
	}
}

static void check_progress(struct serial_send *s, uint64_t now)
{
	struct serial_send_progress p;

	serial_send_progress(s, now, &p);
	must(p.bytes <= p.total && p.block <= p.blocks);
}

/* All that a caller may do, in any order. The time that has come at the end. */
static uint64_t use(struct twins *t, struct input *in)
{
	uint64_t now = 0, last = 0;

	while (in->left > 0) {
		uint8_t what = input_byte(in), n;
		size_t some = 4;
		const uint8_t *bytes;

		now += what >> 4;
		switch (what & 7) {
		case 0:
		case 1:
			take(t, now);
			break;
		case 2:
			serial_send_tick(t->at_once, now);
			serial_send_tick(t->single, now);
			break;
		case 3:
			bytes = wire_input_bytes(in, &some);
			feed(t, now, bytes, some);
			break;
		case 4:
			if (serial_send_deadline(t->at_once) != SERIAL_SEND_NEVER &&
			    serial_send_deadline(t->at_once) > now)
				now = serial_send_deadline(t->at_once);
			break;
		case 5:
			check_progress(t->at_once, now);
			check_progress(t->single, now);
			break;
		default:
			what = input_byte(in);
			n = input_byte(in);
			happens(t->at_once, now, what, n);
			happens(t->single, now, what, n);
		}
		must(compare(t).bytes >= last);
		last = compare(t).bytes;
	}
	return now;
}

/* Left alone, it ends: each deadline is a step towards an end. A patient one may wait for ever. */
static void leave_alone(struct twins *t, uint64_t now)
{
	struct serial_send_outcome o;

	serial_send_queued(t->at_once, now, 0);
	serial_send_queued(t->single, now, 0);
	for (int steps = 0;
	     t->settings->first_ms > 0 && serial_send_deadline(t->at_once) != SERIAL_SEND_NEVER;
	     steps++) {
		must(steps < 100000);
		now =
		    serial_send_deadline(t->at_once) > now ? serial_send_deadline(t->at_once) : now;
		take(t, now);
		serial_send_tick(t->at_once, now);
		serial_send_tick(t->single, now);
	}
	o = compare(t);
	must(o.state >= SERIAL_SEND_DONE || t->settings->first_ms == 0 || t->settings->patient);
	must(o.state != SERIAL_SEND_DONE || o.cut_tail || serial_text_next(&t->text) < 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};
	struct line_serial settings = wire_input_settings(&in);
	struct serial_text_refusal refusal, same;
	size_t n = input_byte(&in);
	const uint8_t *program = wire_input_bytes(&in, &n);
	struct twins t = {serial_send_new(&settings, program, n, 0, &refusal),
	    serial_send_new(&settings, program, n, 0, &same), .settings = &settings};
	int text = serial_text_init(&t.text, &settings, program, n, &same);

	must((t.at_once != NULL) == (refusal.fault == SERIAL_TEXT_OK));
	must((t.at_once != NULL) == (t.single != NULL));
	must(!t.at_once || text == 0);
	if (t.at_once)
		leave_alone(&t, use(&t, &in));
	else
		must(refusal.offset <= n && *serial_text_says(refusal.fault));
	serial_send_free(t.at_once);
	serial_send_free(t.single);
	return 0;
}
