/*
 * Goal: nothing that a device server can send, in any order and cut anyhow, trips the RFC 2217
 * client, which is bounded; byte by byte and at once are the same; and what it says may be shown.
 */
#include <string.h>
#include "comport.h"
#include "input.h"
#include "telnet.h"

enum { MOST = 8192 };

/* Feed n bytes to both, to one at once and to the other byte by byte: all they say is the same. */
static void feed_both(struct comport *const c[2], uint64_t now, const uint8_t *in, size_t n)
{
	static uint8_t at_once[MOST], single[MOST];
	size_t a = comport_feed(c[0], now, in, n, at_once), b = 0;

	for (size_t i = 0; i < n; i++)
		b += comport_feed(c[1], now, in + i, 1, single + b);
	must(a == b && a <= n && memcmp(at_once, single, a) == 0);
}

static void compare(struct comport *const c[2])
{
	struct comport_outcome a, b;
	const uint8_t *pa, *pb;
	size_t na, nb;
	char text[256];

	comport_outcome(c[0], &a);
	comport_outcome(c[1], &b);
	must(a.state == b.state && a.reason == b.reason && a.framing == b.framing);
	must((a.reason == COMPORT_OK) == (a.state != COMPORT_FAILED));
	must(comport_deadline(c[0]) == comport_deadline(c[1]));
	pa = comport_pending(c[0], &na);
	pb = comport_pending(c[1], &nb);
	must(na == nb && na <= TELNET_OUT_MAX && memcmp(pa, pb, na) == 0);
	comport_says(c[0], text, sizeof text);
	must_be_plain(text, strlen(text));
	must_be_plain(a.said, strlen(a.said));
	must((*text != '\0') == (a.state == COMPORT_FAILED));
}

static void client(struct input *in)
{
	struct comport_settings s = {
	    .size = 7, .parity = COMPORT_EVEN, .stop = 2, .flow = COMPORT_FLOW_NONE};
	struct comport *c[2];
	uint64_t now = 0;

	/* One after the other, so that an input means the same to every compiler. */
	s.baud = input_number(in);
	s.dtr = input_byte(in) & 1 ? COMPORT_DTR_ON : 0;
	s.answer_ms = 1 + input_number(in);
	s.silence_ms = input_number(in);
	c[0] = comport_new(&s, 0);
	c[1] = comport_new(&s, 0);
	must(c[0] && c[1]);
	while (in->left > 0) {
		uint8_t what = input_byte(in);
		size_t n = what >> 2;

		n = n < in->left ? n : in->left;
		switch (what & 3) {
		case 0:
		case 1:
			feed_both(c, now, in->at, n);
			break;
		case 2:
			must(comport_write(c[0], in->at, n) == comport_write(c[1], in->at, n));
			break;
		case 3:
			now += n * n;
			n = 0;
			comport_gone(c[0], what);
			comport_gone(c[1], what);
			comport_tick(c[0], now);
			comport_tick(c[1], now);
			break;
		}
		in->at += n;
		in->left -= n;
		compare(c);
	}
	comport_free(c[0]);
	comport_free(c[1]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct input in = {data, size};

	client(&in);
	return 0;
}
