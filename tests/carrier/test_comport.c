/*
 * Goal: the carrier over RFC 2217, with the model of a server that the wire's tests use at the
 * other end of a real connection: both programs arrive, line errors are told, a server that falls
 * silent is noticed in seconds, and nothing is sent to a port with other settings. Numbers: RFC
 * 2217, from memory.
 */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "line_case.h"
#include "comport_server.h"

static struct server s;
static size_t mark; /* characters of the line that belong to earlier programs */

static long now(void)
{
	struct timespec t;

	clock_gettime(CLOCK_MONOTONIC, &t);
	return t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static void say_all(struct desk *k)
{
	if (s.out_n > 0)
		desk_say(k, s.out, s.out_n);
	s.out_n = 0;
}

/* Serve for ms, or until done() says so. */
static bool serve(struct desk *k, int ms, bool (*done)(void))
{
	long until = now() + ms;

	while (now() < until) {
		struct pollfd q = {k->fd, POLLIN, 0};
		uint8_t in[256];
		ssize_t n;

		say_all(k);
		if (done && done())
			return true;
		if (poll(&q, 1, 20) <= 0)
			continue;
		n = read(k->fd, in, sizeof in);
		if (n <= 0)
			return false;
		server_feed(&s, in, (size_t)n);
	}
	return !done;
}

static bool emptied(void)
{
	return s.purged == 3;
}

/* Two times %, with even parity, since the mark. */
static bool whole(void)
{
	uint8_t *at = memchr(s.line + mark, 0xA5, s.line_n - mark);

	return at && memchr(at + 1, 0xA5, s.line_n - (size_t)(at + 1 - s.line));
}

static bool begun(void)
{
	return s.line_n >= 10;
}

static void begin_port(void (*script)(struct desk *), unsigned faults)
{
	server_init(&s, faults);
	mark = 0;
	begin(script);
	for (int i = 0; i < 2; i++) {
		struct line_serial *l = &r.order.item[i].line.serial;

		snprintf(l->address, sizeof l->address, "rfc2217://127.0.0.1:%d", d.port);
		l->open_ms = 5000;
		l->baud = 9600;
	}
}

static void takes_both(struct desk *k)
{
	desk_accept(k);
	k->failed |= !serve(k, 5000, emptied);
	for (int i = 0; i < 2; i++) {
		serve(k, 100, NULL);
		server_data(&s, (const uint8_t *)"\x11", 1);
		k->failed |= !serve(k, 5000, whole);
		server_says(&s, 6, "\x0C", 1); /* NOTIFY-LINESTATE: parity 4, framing 8 */
		serve(k, 200, NULL);
		mark = s.line_n;
	}
	serve(k, 1000, NULL);
}

static void both_programs(void **state)
{
	begin_port(takes_both, 0);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_true(s.baud == 9600 && s.size == 7 && s.parity == 3 && s.stop == 2);
	assert_int_equal(s.flow, 1);
	assert_int_equal(s.line_mask, 0x1E);
	assert_int_equal(r.outcome.channel[1].line_errors, 4);
	assert_int_equal(s.line[0], 0xA5);
	for (size_t i = 0; i < s.line_n; i++)
		s.line[i] &= 0x7F;
	assert_non_null(memmem(s.line, s.line_n, "UPPER", 5));
	assert_non_null(memmem(s.line, s.line_n, "LOWER", 5));
}

/* The server stands still while the control holds: nothing is unacknowledged, the line is as quiet
 * as any other. */
static void falls_silent(struct desk *k)
{
	desk_accept(k);
	k->failed |= !serve(k, 5000, emptied);
	serve(k, 100, NULL);
	server_data(&s, (const uint8_t *)"\x11", 1);
	k->failed |= !serve(k, 5000, begun);
	server_data(&s, (const uint8_t *)"\x93", 1);
	serve(k, 100, NULL);
	s.faults = MUTE;
	serve(k, 20000, NULL);
}

static void half_open(void **state)
{
	static char big[4001];
	long began;

	memset(big, 'X', sizeof big - 1);
	memcpy(big, "%\nO1\n", 5);
	memcpy(big + sizeof big - 4, "\n%\n", 3);
	rig_program(&r, 0, big);
	begin_port(falls_silent, 0);
	r.order.item[0].line.serial.stall_ms = r.order.item[1].line.serial.stall_ms = 60000;
	began = now();
	rig_run(&r);
	assert_true(now() - began < 10000);
	desk_close(&d);
	ended(CARRY_ERROR_LOST, CARRY_HELD_STUMP, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "does not answer any more"));
}

static void takes_nothing(struct desk *k)
{
	desk_accept(k);
	serve(k, 5000, NULL);
}

static void other_settings(void **state)
{
	begin_port(takes_nothing, OTHER_PARITY);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "the parity: asked was even, its answer is none"));
	assert_int_equal(s.line_n, 0);
}

static void greets_in_telnet(struct desk *k)
{
	desk_accept(k);
	desk_say(k, "\xFF\xFB\x03\xFF\xFD\x2C\x11", 7);
	if (desk_hear_for(k, 1000))
		k->failed = true;
}

/* tcp:// to a port for telnet, with a DC1 behind its greeting: no program is sent into it. */
static void telnet_for_raw(void **state)
{
	begin(greets_in_telnet);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "speaks telnet at this port"));
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(both_programs),
	    T(half_open),
	    T(other_settings),
	    T(telnet_for_raw),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
