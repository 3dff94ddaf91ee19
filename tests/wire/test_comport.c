/*
 * Goal: a device server's port counts as open only when every value is what was asked for, each way
 * in which a server can fail has its own words, and a server that is gone is found. Source of the
 * numbers: RFC 2217, from memory.
 */
#include "wire_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "comport_asked.h"
#include "comport_server.h"

struct talk {
	struct comport *c;
	struct server s;
	uint64_t now;
	uint8_t heard[SERVER_BYTES]; /* characters of the line that reached us */
	size_t heard_n;
};

static void begin(struct talk *t, const struct comport_settings *s, unsigned faults)
{
	memset(t, 0, sizeof *t);
	t->now = 1000;
	server_init(&t->s, faults);
	t->c = comport_new(s, t->now);
	assert_non_null(t->c);
}

/* Everything that either side wants to say, until both are silent. */
static void exchange(struct talk *t)
{
	const uint8_t *bytes;
	size_t n;

	for (;;) {
		bytes = comport_pending(t->c, &n);
		if (n == 0 && t->s.out_n == 0)
			return;
		server_feed(&t->s, bytes, n);
		comport_gone(t->c, n);
		t->heard_n +=
		    comport_feed(t->c, t->now, t->s.out, t->s.out_n, t->heard + t->heard_n);
		t->s.out_n = 0;
	}
}

/* The same with time: up to the next deadline again and again, until open, failed, or at until. */
static struct comport_outcome run(struct talk *t, uint64_t until)
{
	struct comport_outcome o;

	for (;;) {
		exchange(t);
		comport_outcome(t->c, &o);
		if (o.state >= COMPORT_OPEN && until == 0)
			return o;
		if (o.state == COMPORT_FAILED || comport_deadline(t->c) > (until ? until : 60000))
			return o;
		assert_true(comport_deadline(t->c) > t->now);
		t->now = comport_deadline(t->c);
		comport_tick(t->c, t->now);
	}
}

static struct comport_outcome opened(struct talk *t)
{
	struct comport_outcome o;

	begin(t, &settings, 0);
	o = run(t, 0);
	assert_int_equal(o.state, COMPORT_OPEN);
	return o;
}

static void answers(struct talk *t, const void *bytes, size_t n)
{
	t->heard_n += comport_feed(t->c, t->now, bytes, n, t->heard + t->heard_n);
}

/* Source: RFC 2217, "Com Port Option Commands": 44; SET-BAUDRATE 1 with four bytes, SET-DATASIZE 2,
 * SET-PARITY 3 (EVEN 3), SET-STOPSIZE 4 (2 is 2), SET-CONTROL 5 (1: no flow control),
 * SET-LINESTATE-MASK 10, SET-MODEMSTATE-MASK 11, PURGE-DATA 12 (3: both). */
static void every_word(void **state)
{
	static const char *const lines[][2] = {
	    {"\xFF\xFB\x2C\xFF\xFB\0\xFF\xFD\0", "\xFF\xFD\x2C\xFF\xFD\0\xFF\xFB\0"},
	    {"\xFF\xFA\x2C\x01\0\0\x25\x80\xFF\xF0", "\xFF\xFA\x2C\x65\0\0\x25\x80\xFF\xF0"},
	    {"\xFF\xFA\x2C\x02\x07\xFF\xF0", "\xFF\xFA\x2C\x66\x07\xFF\xF0"},
	    {"\xFF\xFA\x2C\x03\x03\xFF\xF0", "\xFF\xFA\x2C\x67\x03\xFF\xF0"},
	    {"\xFF\xFA\x2C\x04\x02\xFF\xF0", "\xFF\xFA\x2C\x68\x02\xFF\xF0"},
	    {"\xFF\xFA\x2C\x05\x01\xFF\xF0", "\xFF\xFA\x2C\x69\x01\xFF\xF0"},
	    {"\xFF\xFA\x2C\x01\0\0\0\0\xFF\xF0", "\xFF\xFA\x2C\x65\0\0\x25\x80\xFF\xF0"},
	    {"\xFF\xFA\x2C\x02\0\xFF\xF0", "\xFF\xFA\x2C\x66\x07\xFF\xF0"},
	    {"\xFF\xFA\x2C\x03\0\xFF\xF0", "\xFF\xFA\x2C\x67\x03\xFF\xF0"},
	    {"\xFF\xFA\x2C\x04\0\xFF\xF0", "\xFF\xFA\x2C\x68\x02\xFF\xF0"},
	    {"\xFF\xFA\x2C\x05\0\xFF\xF0", "\xFF\xFA\x2C\x69\x01\xFF\xF0"},
	    {"\xFF\xFA\x2C\x0A\x1E\xFF\xF0", "\xFF\xFA\x2C\x6E\x1E\xFF\xF0"},
	    {"\xFF\xFA\x2C\x0B\xFF\xFF\xFF\xF0", "\xFF\xFA\x2C\x6F\xFF\xFF\xFF\xF0"},
	    {"\xFF\xFA\x2C\x0C\x03\xFF\xF0", "\xFF\xFA\x2C\x70\x03\xFF\xF0"},
	};
	static const size_t length[][2] = {{9, 9}, {10, 10}, {7, 7}, {7, 7}, {7, 7}, {7, 7},
	    {10, 10}, {7, 7}, {7, 7}, {7, 7}, {7, 7}, {7, 7}, {8, 8}, {7, 7}};
	struct comport_outcome o;
	struct talk t;
	const uint8_t *bytes;
	size_t n;

	begin(&t, &settings, 0);
	for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
		bytes = comport_pending(t.c, &n);
		assert_int_equal(n, length[i][0]);
		assert_memory_equal(bytes, lines[i][0], n);
		comport_gone(t.c, n);
		comport_outcome(t.c, &o);
		assert_int_equal(o.state, i == 0 ? COMPORT_AGREEING : COMPORT_SETTING);
		answers(&t, lines[i][1], length[i][1]);
	}
	comport_outcome(t.c, &o);
	assert_int_equal(o.state, COMPORT_OPEN);
	assert_int_equal(o.line_mask, 0x1E);
	assert_int_equal(o.modem_mask, 0xFF);
	comport_pending(t.c, &n);
	assert_int_equal(n, 0);
	comport_free(t.c);
}

/* Source: EIA-232 frames; RFC 2217: parity NONE 1, ODD 2, EVEN 3; stop 1 and 2. */
static void every_framing(void **state)
{
	static const struct {
		enum line_framing f;
		uint8_t size, parity, stop;
	} table[] = {{LINE_8N1, 8, 1, 1}, {LINE_7E1, 7, 3, 1}, {LINE_7E2, 7, 3, 2},
	    {LINE_7O1, 7, 2, 1}, {LINE_8N2, 8, 1, 2}, {LINE_8E1, 8, 3, 1}};

	for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
		struct line_serial line = {.baud = 4800, .framing = table[i].f};
		struct comport_settings s = comport_settings_of(&line);
		struct talk t;

		begin(&t, &s, 0);
		assert_int_equal(run(&t, 0).state, COMPORT_OPEN);
		assert_int_equal(t.s.baud, 4800);
		assert_int_equal(t.s.size, table[i].size);
		assert_int_equal(t.s.parity, table[i].parity);
		assert_int_equal(t.s.stop, table[i].stop);
		assert_int_equal(t.s.flow, 1);
		assert_int_equal(t.s.purged, 3);
		comport_free(t.c);
	}
}

/* Source: RFC 2217, SET-CONTROL: 1 none, 3 hardware, 19 DSR. XON/XOFF is ours. */
static void every_flow(void **state)
{
	static const struct {
		enum line_flow f;
		uint8_t flow;
	} table[] = {{LINE_FLOW_XON, 1}, {LINE_FLOW_RTSCTS, 3}, {LINE_FLOW_DTRDSR, 19},
	    {LINE_FLOW_BOTH, 3}, {LINE_FLOW_NONE, 1}};

	for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
		struct line_serial line = {.baud = 110, .flow = table[i].f};

		assert_int_equal(comport_settings_of(&line).flow, table[i].flow);
	}
}

/* Source: RFC 2217, SET-CONTROL: 3 hardware flow control, 8 DTR on, 12 RTS off. */
static void modem_lines(void **state)
{
	struct comport_settings s = settings;
	struct talk t;

	s.flow = COMPORT_FLOW_HARDWARE;
	s.dtr = COMPORT_DTR_ON;
	s.rts = COMPORT_RTS_OFF;
	begin(&t, &s, TELLS_FIRST);
	assert_int_equal(run(&t, 0).state, COMPORT_OPEN);
	assert_int_equal(t.s.flow, 3);
	assert_int_equal(t.s.dtr, 8);
	assert_int_equal(t.s.rts, 12);
	comport_free(t.c);
}

static void every_fault(void **state)
{
	static const struct {
		unsigned faults;
		enum comport_reason reason;
		uint8_t command;
		const char *says;
	} table[] = {
	    {NO_COM_PORT, COMPORT_REFUSED, 0, "refuses to have its port set"},
	    {NO_BINARY, COMPORT_NO_BINARY, 0, "refuses BINARY"},
	    {OTHER_BAUD, COMPORT_DIFFERS, 1, "the speed: asked was 9600, its answer is 4800"},
	    {OTHER_SIZE, COMPORT_DIFFERS, 2, "data bits: asked was 7, its answer is 8"},
	    {OTHER_PARITY, COMPORT_DIFFERS, 3, "the parity: asked was even, its answer is none"},
	    {OTHER_STOP, COMPORT_DIFFERS, 4, "the stop bits: asked was 2, its answer is 1"},
	    {OTHER_FLOW, COMPORT_DIFFERS, 5, "asked was none, its answer is XON/XOFF"},
	    {SIZE_TAKES_STOP, COMPORT_DIFFERS, 4, "the stop bits: asked was 2, its answer is 1"},
	    {MUTE, COMPORT_NO_ANSWER, 1, "no answer about the speed within 3000 ms"},
	};

	for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
		struct comport_outcome o;
		char text[256];
		struct talk t;

		begin(&t, &settings, table[i].faults);
		o = run(&t, 0);
		assert_int_equal(o.state, COMPORT_FAILED);
		assert_int_equal(o.reason, table[i].reason);
		assert_int_equal(o.command, table[i].command);
		comport_says(t.c, text, sizeof text);
		if (!strstr(text, table[i].says))
			fail_msg("'%s' does not say '%s'", text, table[i].says);
		assert_int_equal(comport_write(t.c, "x", 1), 0);
		assert_true(comport_deadline(t.c) == COMPORT_NEVER);
		comport_free(t.c);
	}
}

/* A server that does not answer the masks, or answers with the state, is no failure. */
static void masks_are_extra(void **state)
{
	struct talk t;
	struct comport_outcome o;

	begin(&t, &settings, NO_MASKS);
	o = run(&t, 0);
	assert_int_equal(o.state, COMPORT_OPEN);
	assert_int_equal(o.line_mask, 0);
	assert_true(t.now <= 1000 + 2 * 1000);
	comport_free(t.c);
}

/* No telnet at all, but a voice: words before the port is open are kept, and are no data. */
static void plain_tcp(void **state)
{
	struct comport_outcome o;
	char text[256];
	struct talk t;

	begin(&t, &settings, 0);
	answers(&t, BYTES("Port already in use\r\n"));
	t.now += 3000;
	comport_tick(t.c, t.now);
	comport_outcome(t.c, &o);
	assert_int_equal(o.reason, COMPORT_NO_TELNET);
	assert_string_equal(o.said, "Port already in use");
	assert_int_equal(t.heard_n, 0);
	comport_says(t.c, text, sizeof text);
	assert_non_null(strstr(text, "write tcp://"));
	comport_free(t.c);
}

/* All 256 characters, both ways; none before the port is open. */
static void all_characters(void **state)
{
	uint8_t all[256];
	struct talk t;

	for (int i = 0; i < 256; i++)
		all[i] = (uint8_t)i;
	begin(&t, &settings, 0);
	assert_int_equal(comport_write(t.c, all, 256), 0);
	answers(&t, BYTES("\x11garbage of the old speed"));
	assert_int_equal(run(&t, 0).state, COMPORT_OPEN);
	assert_int_equal(t.heard_n, 0);
	assert_int_equal(comport_write(t.c, all, 256), 256);
	server_data(&t.s, all, 256);
	exchange(&t);
	assert_int_equal(t.s.line_n, 256);
	assert_memory_equal(t.s.line, all, 256);
	assert_int_equal(t.heard_n, 256);
	assert_memory_equal(t.heard, all, 256);
	comport_free(t.c);
}

/* Source: RFC 2217, NOTIFY-LINESTATE 106: 2 overrun, 4 parity, 8 framing, 16 break, others are no
 * errors; NOTIFY-MODEMSTATE 107: 128 CD, 64 RI, 32 DSR, 16 CTS, the rest are changes. */
static void states(void **state)
{
	struct talk t;
	struct comport_outcome o = opened(&t);

	assert_int_equal(o.overrun + o.parity + o.framing + o.brk, 0);
	server_says(&t.s, 6, "\x60", 1); /* transmitter empty */
	server_says(&t.s, 6, "\x04", 1);
	server_says(&t.s, 6, "\x1E", 1);
	server_says(&t.s, 7, "\xB1", 1);
	exchange(&t);
	comport_outcome(t.c, &o);
	assert_int_equal(o.overrun, 1);
	assert_int_equal(o.parity, 2);
	assert_int_equal(o.framing, 1);
	assert_int_equal(o.brk, 1);
	assert_true(o.modem_known);
	assert_int_equal(o.modem & COMPORT_MODEM_CTS, COMPORT_MODEM_CTS);
	assert_int_equal(o.modem & COMPORT_MODEM_RI, 0);
	comport_free(t.c);
}

/* Source: RFC 2217, FLOWCONTROL-SUSPEND 8 and RESUME 9, from the server 108 and 109. */
static void suspend_and_resume(void **state)
{
	struct comport_outcome o;
	struct talk t;

	opened(&t);
	answers(&t, BYTES("\xFF\xFA\x2C\x6C\xFF\xF0"));
	comport_outcome(t.c, &o);
	assert_true(o.suspended);
	assert_int_equal(comport_write(t.c, "N10", 3), 0);
	answers(&t, BYTES("\xFF\xFA\x2C\x6D\xFF\xF0"));
	assert_int_equal(comport_write(t.c, "N10", 3), 3);
	exchange(&t);
	assert_memory_equal(t.s.line, "N10", 3);
	comport_free(t.c);
}

/* Asked once in a while and answered, a line stays; a server that falls silent is found in
 * silence_ms + answer_ms, but not while the network still holds the question. */
static void gone(void **state)
{
	struct comport_outcome o;
	char text[256];
	struct talk t;

	opened(&t);
	o = run(&t, t.now + 60000);
	assert_int_equal(o.state, COMPORT_OPEN);
	t.s.faults = MUTE;
	o = run(&t, t.now + 100000);
	assert_int_equal(o.reason, COMPORT_GONE);
	comport_says(t.c, text, sizeof text);
	assert_non_null(strstr(text, "does not answer any more"));
	comport_free(t.c);

	opened(&t);
	t.s.faults = MUTE;
	t.now += 3000;
	assert_int_equal(comport_deadline(t.c), t.now);
	comport_tick(t.c, t.now);
	for (int i = 0; i < 10; i++) {
		t.now += 2000;
		comport_waits(t.c, t.now);
		comport_tick(t.c, t.now);
		comport_outcome(t.c, &o);
		assert_int_equal(o.state, COMPORT_OPEN);
	}
	comport_tick(t.c, t.now + 2999);
	comport_outcome(t.c, &o);
	assert_int_equal(o.state, COMPORT_OPEN);
	comport_tick(t.c, t.now + 3000);
	comport_outcome(t.c, &o);
	assert_int_equal(o.reason, COMPORT_GONE);
	comport_free(t.c);

	/* One that has no answer yet, but characters of the line, is there. */
	opened(&t);
	t.now += 3000;
	comport_tick(t.c, t.now);
	for (int i = 0; i < 10; i++) {
		t.now += 2000;
		answers(&t, BYTES("N"));
		comport_tick(t.c, t.now);
	}
	comport_outcome(t.c, &o);
	assert_int_equal(o.state, COMPORT_OPEN);
	comport_free(t.c);
}

/* Somebody else sets the port while we use it. */
static void changed(void **state)
{
	struct comport_outcome o;
	char text[256];
	struct talk t;

	opened(&t);
	t.s.baud = 300;
	o = run(&t, t.now + 10000);
	assert_int_equal(o.reason, COMPORT_CHANGED);
	comport_says(t.c, text, sizeof text);
	assert_non_null(strstr(text, "the speed of its port is now 300, set was 9600"));
	comport_free(t.c);
	opened(&t);
	server_says(&t.s, 3, "\x01", 1);
	exchange(&t);
	comport_outcome(t.c, &o);
	assert_int_equal(o.reason, COMPORT_CHANGED);
	comport_free(t.c);
	/* COM-PORT and BINARY are needed to the end. */
	opened(&t);
	answers(&t, BYTES("\xFF\xFE\0"));
	comport_outcome(t.c, &o);
	assert_int_equal(o.reason, COMPORT_NO_BINARY);
	comport_free(t.c);
}

/* Nothing of COM-PORT is said before both have agreed, whatever the server asks. */
static void asked_too_early(void **state)
{
	struct talk t;
	size_t n;

	begin(&t, &settings, 0);
	comport_pending(t.c, &n);
	comport_gone(t.c, n);
	answers(&t, BYTES("\xFF\xFA\x2C\x64\xFF\xF0"));
	comport_pending(t.c, &n);
	assert_int_equal(n, 0);
	comport_free(t.c);
}

static void endless(void **state)
{
	struct comport_outcome o;
	struct talk t;

	opened(&t);
	for (int i = 0; i < 100; i++) {
		answers(&t, BYTES("\xFF\xFA\x2C\x64\xFF\xF0")); /* SIGNATURE?, RFC 2217 */
		exchange(&t);
	}
	comport_outcome(t.c, &o);
	assert_int_equal(o.reason, COMPORT_ENDLESS);
	comport_free(t.c);
	opened(&t);
	for (int i = 0; i < 100; i++)
		answers(&t, BYTES("\xFF\xFB\x01")); /* WILL ECHO */
	comport_outcome(t.c, &o);
	assert_int_equal(o.reason, COMPORT_ENDLESS);
	comport_free(t.c);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_word),
	    cmocka_unit_test(every_framing),
	    cmocka_unit_test(every_flow),
	    cmocka_unit_test(modem_lines),
	    cmocka_unit_test(every_fault),
	    cmocka_unit_test(masks_are_extra),
	    cmocka_unit_test(plain_tcp),
	    cmocka_unit_test(all_characters),
	    cmocka_unit_test(states),
	    cmocka_unit_test(suspend_and_resume),
	    cmocka_unit_test(gone),
	    cmocka_unit_test(changed),
	    cmocka_unit_test(asked_too_early),
	    cmocka_unit_test(endless),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
