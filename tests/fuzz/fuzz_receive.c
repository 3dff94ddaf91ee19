/*
 * Goal: whatever a control punches, cut anyhow and at any time, comes to an end, is kept to the
 * byte, and means the same byte by byte and at once. A text that may be taken for a program is its
 * own canonical form without device controls, and punched once more in its code it is the same
 * program.
 */
#include <stdlib.h>
#include <string.h>
#include "canonical.h"
#include "serial_code.h"
#include "serial_mark.h"
#include "serial_receive.h"
#include "wire_input.h"

enum { MOST = 4096 };

/* Two receivers that are fed the same, and all that they were fed. */
struct twins {
	struct serial_receive *at_once, *single;
	uint8_t fed[2 * MOST];
	size_t fed_n, most;
};

static struct serial_receive_outcome compare(const struct twins *t)
{
	struct serial_receive_outcome a, b;

	serial_receive_outcome(t->at_once, &a);
	serial_receive_outcome(t->single, &b);
	must(a.state == b.state && a.reason == b.reason && a.findings == b.findings);
	must(a.before == b.before && a.after == b.after && a.damage_line == b.damage_line);
	must(a.raw_size == b.raw_size && a.text_size == b.text_size);
	must(a.raw_size <= t->most && a.raw_size <= t->fed_n);
	must(a.raw_size == 0 || memcmp(a.raw, t->fed, a.raw_size) == 0);
	must(a.text_size == 0 || memcmp(a.text, b.text, a.text_size) == 0);
	must(a.text_size <= a.raw_size + 1);
	must((a.reason == SERIAL_RECEIVE_OK) == (a.state != SERIAL_RECEIVE_FAILED));
	must(!a.usable || a.state == SERIAL_RECEIVE_DONE);
	must(serial_receive_deadline(t->at_once) == serial_receive_deadline(t->single));
	return a;
}

static void feed(struct twins *t, uint64_t now, const uint8_t *bytes, size_t n)
{
	if (n > sizeof(t->fed) - t->fed_n)
		return;
	memcpy(t->fed + t->fed_n, bytes, n);
	t->fed_n += n;
	serial_receive_feed(t->at_once, now, bytes, n);
	for (size_t i = 0; i < n; i++)
		serial_receive_feed(t->single, now, bytes + i, 1);
}

/* The same bytes as a port with marks gives them, in two pieces: what comes is what was sent. */
static void through_marks(const uint8_t *bytes, size_t n)
{
	uint8_t marked[2 * 256], *second;
	struct serial_mark m = {0};
	size_t k = 0, half, got;

	for (size_t i = 0; i < n; i++) {
		if (bytes[i] == 0xFF)
			marked[k++] = 0xFF;
		marked[k++] = bytes[i];
	}
	half = k / 2;
	got = serial_mark_take(&m, marked, half);
	second = marked + got;
	memmove(second, marked + half, k - half);
	must(serial_mark_take(&m, second, k - half) + got == n);
	must(memcmp(marked, bytes, n) == 0 && m.wrong == 0 && m.breaks == 0);
}

static void hear(struct twins *t, struct input *in)
{
	uint64_t now = 0;

	while (in->left > 0) {
		uint8_t what = input_byte(in);
		size_t n = what;
		const uint8_t *bytes = wire_input_bytes(in, &n);

		feed(t, now, bytes, n);
		through_marks(bytes, n);
		what = input_byte(in);
		now += what;
		serial_receive_tick(t->at_once, now);
		serial_receive_tick(t->single, now);
		if (what == 0xFF) {
			serial_receive_lost(t->at_once, now);
			serial_receive_lost(t->single, now);
		} else if (what == 0xFE) {
			serial_receive_cancel(t->at_once, now);
			serial_receive_cancel(t->single, now);
		}
		compare(t);
	}
	serial_receive_tick(t->at_once, UINT64_MAX);
	serial_receive_tick(t->single, UINT64_MAX);
	must(serial_receive_deadline(t->at_once) == SERIAL_RECEIVE_NEVER);
}

static void is_canonical(const uint8_t *text, size_t n)
{
	struct canonical c;

	for (size_t i = 0; i < n; i++)
		must(text[i] != 0 && !(text[i] >= 0x11 && text[i] <= 0x14));
	must(canonical_make(&c, text, n) == 0);
	must(c.size == n && memcmp(c.bytes, text, n) == 0);
	canonical_free(&c);
}

static bool has_high(const uint8_t *text, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (text[i] > 0x7F)
			return true;
	return false;
}

/* Punched again as the line's code has it: the same text, and nothing to be said of it. (Not with
 * characters of eight bits: how many of them are noise depends on the others.) */
static void punch_again(const struct line_serial *settings, const uint8_t *text, size_t n)
{
	struct serial_receive *r = serial_receive_new(settings, 2 * MOST, 0);
	struct serial_receive_outcome o;
	struct serial_code code;

	must(r && serial_code_init(&code, settings) == 0);
	for (size_t i = 0; i < n; i++) {
		int byte = serial_code_byte(&code, text[i]);
		uint8_t b = (uint8_t)byte;

		must(byte >= 0);
		serial_receive_feed(r, 0, &b, 1);
	}
	serial_receive_tick(r, UINT64_MAX);
	serial_receive_outcome(r, &o);
	must(o.usable && serial_capture_worst(o.findings) == 0);
	must(o.text_size == n && memcmp(o.text, text, n) == 0);
	serial_receive_free(r);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct twins t;
	struct input in = {data, size};
	struct line_serial settings = wire_input_settings(&in);
	struct serial_receive_outcome o;

	t.fed_n = 0;
	t.most = 1 + input_number(&in) % MOST;
	t.at_once = serial_receive_new(&settings, t.most, 0);
	t.single = serial_receive_new(&settings, t.most, 0);
	must((t.at_once != NULL) == (t.single != NULL));
	if (!t.at_once)
		return 0;
	hear(&t, &in);
	o = compare(&t);
	if (o.usable && serial_capture_worst(o.findings) == 0) {
		is_canonical(o.text, o.text_size);
		if (!has_high(o.text, o.text_size))
			punch_again(&settings, o.text, o.text_size);
	}
	serial_receive_free(t.at_once);
	serial_receive_free(t.single);
	return 0;
}
