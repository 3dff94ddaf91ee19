/* Goal: the telnet layer says what RFC 854, 855, 856 and 1143 ask for, changes no character of a
 * binary line, is bounded, and does not care how its input is cut. */
#include "wire_test.h"

#include <string.h>
#include "telnet.h"

/* All of input, in steps; what the events were, each as its number, the option and the side. */
struct run {
	struct telnet t;
	uint8_t data[4096];
	size_t data_n;
	uint8_t events[4096];
	size_t events_n;
};

static void begin(struct run *r)
{
	memset(r, 0, sizeof *r);
	telnet_init(&r->t);
	telnet_may(&r->t, TELNET_BINARY, true, true);
	telnet_may(&r->t, TELNET_SGA, false, true);
}

static void feed(struct run *r, const void *bytes, size_t n)
{
	const uint8_t *at = bytes;

	while (n > 0) {
		enum telnet_event e;
		size_t used = telnet_feed(&r->t, at, n, r->data, &r->data_n, &e);

		assert_true(used > 0 && used <= n);
		at += used;
		n -= used;
		if (e == TELNET_NOTHING)
			continue;
		assert_true(r->events_n + 3 + r->t.sub_n < sizeof r->events);
		r->events[r->events_n++] = (uint8_t)e;
		if (e == TELNET_SUBOPTION) {
			memcpy(r->events + r->events_n, r->t.sub, r->t.sub_n);
			r->events_n += r->t.sub_n;
		} else if (e == TELNET_COMMANDED) {
			r->events[r->events_n++] = r->t.command;
		} else {
			r->events[r->events_n++] = r->t.option;
			r->events[r->events_n++] = r->t.ours;
		}
	}
}

static void sent(struct run *r, const void *bytes, size_t n)
{
	assert_int_equal(r->t.out_n, n);
	assert_memory_equal(r->t.out, bytes, n);
	telnet_gone(&r->t, n);
	assert_int_equal(r->t.out_n, 0);
}

static void came(struct run *r, const void *bytes, size_t n)
{
	assert_int_equal(r->data_n, n);
	assert_memory_equal(r->data, bytes, n);
	r->data_n = 0;
}

/* Source: RFC 854, IAC as data is sent twice; RFC 856, BINARY: a carriage return stands alone;
 * RFC 854, NVT: it is followed by LF or NUL. */
static void data(void **state)
{
	struct run r;

	begin(&r);
	feed(&r, BYTES("a\xFF\xFF"
	               "b\r\0c\r\nd"));
	came(&r, BYTES("a\xFF"
	               "b\rc\r\nd"));
	assert_int_equal(telnet_put(&r.t, BYTES("\xFF\r"), 100), 2);
	sent(&r, BYTES("\xFF\xFF\r\0"));
	telnet_ask(&r.t, TELNET_BINARY, true);
	telnet_ask(&r.t, TELNET_BINARY, false);
	telnet_ask(&r.t, TELNET_BINARY, false); /* asked for already */
	sent(&r, BYTES("\xFF\xFB\0\xFF\xFD\0"));
	feed(&r, BYTES("\xFF\xFD\0\xFF\xFB\0\r\0\xFF\xFF\x11"));
	came(&r, BYTES("\r\0\xFF\x11"));
	sent(&r, BYTES("")); /* an answer to our wish is not answered */
	assert_int_equal(telnet_put(&r.t, BYTES("\xFF\r"), 100), 2);
	sent(&r, BYTES("\xFF\xFF\r"));
	assert_memory_equal(r.events, "\x1\0\x1\x1\0\0", 6);
}

/* Source: RFC 855, RFC 1143: a wish is answered once, a change back is answered, a state that is
 * there is not. */
static void options(void **state)
{
	struct run r;

	begin(&r);
	feed(&r, BYTES("\xFF\xFB\x03")); /* WILL SUPPRESS-GO-AHEAD, RFC 858 */
	sent(&r, BYTES("\xFF\xFD\x03"));
	feed(&r, BYTES("\xFF\xFB\x03"));
	sent(&r, BYTES(""));
	assert_int_equal(r.events_n, 3); /* nothing has changed */
	feed(&r, BYTES("\xFF\xFC\x03"));
	sent(&r, BYTES("\xFF\xFE\x03"));
	feed(&r, BYTES("\xFF\xFB\x01\xFF\xFD\x18")); /* WILL ECHO, DO TERMINAL-TYPE: not ours */
	sent(&r, BYTES("\xFF\xFE\x01\xFF\xFC\x18"));
	feed(&r, BYTES("\xFF\xFC\x01\xFF\xFE\x18"));
	sent(&r, BYTES(""));
	telnet_ask(&r.t, TELNET_COM_PORT, true);
	sent(&r, BYTES("\xFF\xFB\x2C")); /* 44, RFC 2217 */
	feed(&r, BYTES("\xFF\xFE\x2C"));
	sent(&r, BYTES(""));
	assert_memory_equal(
	    r.events + r.events_n - 3, ((uint8_t[]){TELNET_REFUSED, TELNET_COM_PORT, 1}), 3);
}

static void subnegotiation(void **state)
{
	struct run r;
	uint8_t most[2 * TELNET_OUT_MAX];

	begin(&r);
	/* RFC 855: IAC is doubled inside too. RFC 2217, SET-BAUDRATE of 255. */
	assert_true(telnet_put_sub(&r.t, BYTES("\x2C\x01\0\0\0\xFF")));
	sent(&r, BYTES("\xFF\xFA\x2C\x01\0\0\0\xFF\xFF\xFF\xF0"));
	feed(&r, BYTES("x\xFF\xFA\x2C\x65\0\0\0\xFF\xFF\xFF\xF0y"));
	came(&r, BYTES("xy"));
	assert_memory_equal(r.events, "\x3\x2C\x65\0\0\0\xFF", 7);
	/* One that is never closed, by the next command; an empty one; one that is too long. */
	r.events_n = 0;
	feed(&r, BYTES("\xFF\xFA\x2C\x65\xFF\xFB\x03z\xFF\xFA\xFF\xF0\xFF\xFA\x2C"));
	for (int i = 0; i < TELNET_SUB_MAX; i++)
		feed(&r, BYTES("x"));
	feed(&r, BYTES("\xFF\xF0!\xFF\xF3\xFF\xF1")); /* BREAK and NOP */
	came(&r, BYTES("z!"));
	assert_memory_equal(r.events, "\x1\x3\0\x4\xF3", 5);
	assert_int_equal(r.events_n, 5);
	telnet_gone(&r.t, r.t.out_n);
	memset(most, 0xFF, sizeof most);
	assert_int_equal(telnet_put(&r.t, most, sizeof most, SIZE_MAX), TELNET_OUT_MAX / 2);
	assert_false(telnet_put_sub(&r.t, BYTES("\x2C\x01")));
	telnet_gone(&r.t, 6);
	assert_true(telnet_put_sub(&r.t, BYTES("\x2C\x01")));
	assert_int_equal(r.t.out_n, TELNET_OUT_MAX);
}

/* A peer that wishes for ever is answered so often, and then given up. */
static void endless(void **state)
{
	struct run r;

	begin(&r);
	for (int i = 0; i < TELNET_ANSWERS; i++)
		feed(&r, BYTES("\xFF\xFB\x01"));
	assert_false(r.t.broken);
	assert_int_equal(r.t.out_n, 3 * TELNET_ANSWERS);
	feed(&r, BYTES("\xFF\xFB\x01"));
	assert_true(r.t.broken);
	assert_int_equal(r.t.out_n, 3 * TELNET_ANSWERS);
}

/* A stream in which commands are likely. */
static size_t invent(uint32_t *seed, uint8_t *to, size_t most)
{
	static const uint8_t bytes[] = {255, 255, 255, 250, 250, 240, 240, 251, 252, 253, 254, 0, 1,
	    3, 44, '\r', '\r', 0, '\n', 'x', 0x11, 0x93, 241, 243, 101};
	size_t n = chance(seed) % most;

	for (size_t i = 0; i < n; i++)
		to[i] = bytes[chance(seed) % sizeof bytes];
	return n;
}

/* 100,000 streams: byte by byte, at once, and in pieces are the same; data that was put arrives. */
static void however_it_is_cut(void **state)
{
	static struct run whole, bytes, pieces;
	uint32_t seed = 854;

	for (int round = 0; round < 100000; round++) {
		uint8_t in[96], copy[96];
		size_t n = invent(&seed, in, sizeof in), at = 0, taken;
		struct run *both[] = {&bytes, &pieces};
		struct run back;

		begin(&whole);
		begin(&bytes);
		begin(&pieces);
		feed(&whole, in, n);
		for (size_t i = 0; i < n; i++)
			feed(&bytes, in + i, 1);
		while (at < n) {
			size_t step = 1 + chance(&seed) % (n - at);

			memcpy(copy, in + at, step);
			feed(&pieces, copy, step);
			at += step;
		}
		for (int i = 0; i < 2; i++) {
			assert_memory_equal(&whole.t, &both[i]->t, sizeof whole.t);
			assert_int_equal(whole.data_n, both[i]->data_n);
			assert_memory_equal(whole.data, both[i]->data, whole.data_n);
			assert_int_equal(whole.events_n, both[i]->events_n);
			assert_memory_equal(whole.events, both[i]->events, whole.events_n);
		}
		begin(&whole);
		begin(&back);
		if (round & 1)
			whole.t.us[TELNET_BINARY] = back.t.him[TELNET_BINARY] = TELNET_ON;
		else
			for (size_t i = 0; i < n; i++)
				in[i] = in[i] == 0 ? 1 : in[i]; /* NVT: a NUL behind CR is none */
		taken = telnet_put(&whole.t, in, n, TELNET_OUT_MAX);
		assert_int_equal(taken, n);
		feed(&back, whole.t.out, whole.t.out_n);
		came(&back, in, n);
		assert_int_equal(back.events_n, 0);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(data),
	    cmocka_unit_test(options),
	    cmocka_unit_test(subnegotiation),
	    cmocka_unit_test(endless),
	    cmocka_unit_test(however_it_is_cut),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
