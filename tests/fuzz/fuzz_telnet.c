/*
 * Goal: no bytes, cut anyhow, trip the telnet layer; what it says is bounded, and no peer can keep
 * it answering; byte by byte and at once are the same; and what one side puts the other side gets,
 * BINARY or not, with a subnegotiation between that is no part of it.
 */
#include <string.h>
#include "input.h"
#include "telnet.h"

enum { MOST = 2048, AGREED = 5 };

static void begin(struct telnet *t, uint8_t may)
{
	static const uint8_t options[AGREED] = {
	    TELNET_BINARY, TELNET_ECHO, TELNET_SGA, TELNET_COM_PORT, 200};

	telnet_init(t);
	for (int i = 0; i < AGREED; i++)
		telnet_may(t, options[i], may >> i & 1, may >> (7 - i) & 1);
	if (may & 1)
		telnet_ask(t, TELNET_BINARY, true);
	if (may & 2)
		telnet_ask(t, TELNET_COM_PORT, false);
}

/* Everything that one feed of n bytes does, into data. */
static size_t feed(struct telnet *t, const uint8_t *in, size_t n, uint8_t *data, unsigned *events)
{
	size_t got = 0;

	while (n > 0) {
		enum telnet_event event;
		size_t used = telnet_feed(t, in, n, data, &got, &event);

		must(used > 0 && used <= n);
		must(event != TELNET_SUBOPTION || (t->sub_n > 0 && t->sub_n <= TELNET_SUB_MAX));
		*events += event != TELNET_NOTHING;
		in += used;
		n -= used;
	}
	return got;
}

/* What a peer may send. */
static void any_stream(struct input in, uint8_t may)
{
	static struct telnet a, b;
	static uint8_t at_once[MOST], single[MOST];

	begin(&a, may);
	begin(&b, may);
	while (in.left > 0) {
		uint8_t n = input_byte(&in);
		unsigned events = 0, same = 0;
		size_t got, one = 0;

		n = n < in.left ? n : (uint8_t)in.left;
		got = feed(&a, in.at, n, at_once, &events);
		for (size_t i = 0; i < n; i++)
			one += feed(&b, in.at + i, 1, single + one, &same);
		must(got == one && got <= n && memcmp(at_once, single, got) == 0 && events == same);
		must(memcmp(&a, &b, sizeof(a)) == 0);
		must(a.out_n <= TELNET_OUT_MAX);
		if (n & 1) {
			telnet_gone(&a, n);
			telnet_gone(&b, n);
		}
		in.at += n;
		in.left -= n;
	}
	must(a.answers <= TELNET_ANSWERS || a.broken);
}

/* Into a small room: what is taken arrives, and not more than there is room for. */
static void put(struct telnet *t, const uint8_t *bytes, size_t n, size_t room)
{
	for (size_t at = 0; at < n;) {
		size_t before = t->out_n, taken = telnet_put(t, bytes + at, n - at, before + room);

		must(taken <= n - at && t->out_n <= before + room);
		must(taken > 0 || room < 2);
		at += taken;
		if (taken == 0)
			room = 2;
	}
}

static void there_and_back(struct input in, bool binary, size_t room)
{
	static struct telnet out, back;
	uint8_t data[TELNET_OUT_MAX];
	enum telnet_event event;
	size_t n = in.left < 400 ? in.left : 400, half = n / 2, got = 0, subs = 0;
	size_t sub = n < 200 ? n : 200;

	telnet_init(&out);
	telnet_init(&back);
	if (binary)
		out.us[TELNET_BINARY] = back.him[TELNET_BINARY] = TELNET_ON;
	put(&out, in.at, half, room);
	must(telnet_put_sub(&out, in.at, sub));
	put(&out, in.at + half, n - half, room);
	for (size_t at = 0; at < out.out_n;) {
		at += telnet_feed(&back, out.out + at, out.out_n - at, data, &got, &event);
		if (event != TELNET_SUBOPTION)
			continue;
		subs++;
		must(back.sub_n == sub && !memcmp(back.sub, in.at, sub));
	}
	must(got == n && (n == 0 || memcmp(data, in.at, n) == 0) && subs == (n > 0));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};
	uint8_t what = input_byte(&in);

	if (what & 1)
		there_and_back(in, what & 2, 1 + what / 4);
	else
		any_stream(in, input_byte(&in));
	return 0;
}
