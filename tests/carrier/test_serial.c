/*
 * Goal: over a serial line each program goes out when its channel asks for it, whole and in the
 * line's code; what the control holds at the end is told as far as it is known; what comes back is
 * compared, and no noise becomes a program.
 *
 * DC1..DC4 and parity: ISO 646 / ECMA-6 positions 1/1..1/4, ISO 840 even parity in bit 8. What a
 * control says when is common practice.
 */
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include "line_case.h"

static const char *first, *second;

static void takes_both(struct desk *k)
{
	desk_accept(k);
	if (desk_hear_for(k, 300)) /* nothing before DC1 */
		k->failed = true;
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	first = desk_text(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	second = desk_text(k);
}

static void both_go_when_asked(void **state)
{
	static const struct carry_step steps[] = {
	    {CARRY_STEP_TRANSMIT, 0}, {CARRY_STEP_TRANSMIT, 1}};

	begin(takes_both);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_string_equal(first, UP);
	assert_string_equal(second, LO);
	assert_int_equal(r.steps, 2);
	assert_memory_equal(r.step, steps, sizeof steps);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(r.outcome.channel[i].compared, 0);
		assert_int_equal(r.outcome.channel[i].bytes, strlen(i ? LO : UP));
		assert_int_equal(r.outcome.channel[i].block, 6);
	}
	/* The line's code: even parity in bit 8 (ISO 840). */
	for (size_t i = 0; i < d.n; i++)
		assert_int_equal(__builtin_popcount(d.heard[i]) % 2, 0);
	assert_int_equal(d.heard[0], 0xA5);
}

static void each_framing_of_its_own(void **state)
{
	begin(takes_both);
	for (int i = 0; i < 2; i++) {
		r.order.item[i].line.serial.code = LINE_CODE_ASCII;
		r.order.item[i].line.serial.framing = LINE_8N1;
		r.order.item[i].line.serial.eob = LINE_EOB_CRLF;
		r.order.item[i].line.serial.leader = 10;
	}
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(d.heard[0], 0);
	assert_memory_equal(d.heard + 10, "%\r\nO4417(", 9);
}

static void waits_for_no_dc1(struct desk *k)
{
	desk_accept(k);
	desk_hear_program(k);
	first = desk_text(k);
}

static void without_dc1(void **state)
{
	begin(waits_for_no_dc1);
	r.order.items = 1;
	r.order.item[0].line.serial.wait_dc1 = false;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	/* Two on one line need it. */
	r.order.items = 2;
	r.order.item[1].line.serial.wait_dc1 = false;
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

static size_t while_held;

static void holds_once(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 1000, 5000);
	say(k, DC3);
	while_held = desk_hear_for(k, 1000);
	if (desk_hear_for(k, 500))
		k->failed = true;
	say(k, DC1);
	desk_hear_program(k);
}

/* DC3 comes with the parity bit of a 7-bit control: 0x93. */
static void dc3_holds(void **state)
{
	make_long();
	begin(holds_once);
	r.order.items = 1;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_NEW);
	assert_true(r.outcome.channel[0].held_ms >= 1300);
	/* What the reserve lets lie below, and what left during the reaction of both ends. */
	assert_true(while_held < 1024);
	assert_true(d.n >= strlen(long_program) - 1);
}

static void holds_for_ever(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 2700, 5000);
	say(k, DC3);
	desk_hear_for(k, 5000);
}

/* Case "memory full": DC3 for ever after a part. */
static void memory_full(void **state)
{
	make_long();
	begin(holds_for_ever);
	r.order.item[0].line.serial.stall_ms = 800;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_STALL, CARRY_HELD_STUMP, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 0);
	assert_true(r.outcome.channel[0].bytes >= 2700 &&
	            r.outcome.channel[0].bytes < strlen(long_program));
	assert_int_equal(r.outcome.channel[1].bytes, 0);
	assert_int_equal(r.steps, 1);
}

static void alarm_while_it_reads(struct desk *k)
{
	static const char text[] = "\r\nALARM 085 OVERRUN\r\n";

	desk_accept(k);
	say(k, DC1);
	desk_hear_for(k, 300);
	desk_say(k, text, sizeof text - 1);
	desk_hear_program(k);
}

/* A control that has an alarm and lets the rest run past it: what left us is not what it holds. */
static void alarm_text(void **state)
{
	make_long();
	begin(alarm_while_it_reads);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_ALARM, CARRY_HELD_UNKNOWN, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "the control said 'ALARM 085 OVERRUN'"));
	assert_int_equal(r.outcome.channel[1].bytes, 0);
}

/* A control that says it and stops reading ends in the outcome of the stop, with what it said. */
static void alarm_then_holds(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_for(k, 300);
	desk_say(k, "PS 085", 6);
	say(k, DC3);
	desk_hear_for(k, 5000);
}

static void alarm_and_stop(void **state)
{
	make_long();
	begin(alarm_then_holds);
	r.order.item[0].line.serial.stall_ms = 800;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_STALL, CARRY_HELD_STUMP, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "; the control said 'PS 085'"));
}

/* Noise that looks like a character or two is no text. */
static void noise_while_it_reads(struct desk *k)
{
	static const char noise[] = {'~', 0x7F, 0x01, 'x'};

	desk_accept(k);
	say(k, DC1);
	desk_hear_for(k, 300);
	desk_say(k, noise, sizeof noise);
	desk_hear_program(k);
}

static void noise_is_no_alarm(void **state)
{
	make_long();
	begin(noise_while_it_reads);
	r.order.items = 1;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_NEW);
}

static void hangs_up_in_the_middle(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 2700, 5000);
	desk_hang_up(k);
}

/* Its variant: the line is closed. */
static void line_lost(void **state)
{
	make_long();
	begin(hangs_up_in_the_middle);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_LOST, CARRY_HELD_STUMP, CARRY_HELD_OLD);
}

static void upper_only(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	k->mark = k->n;
	say(k, DC1);
	desk_hear(k, 20, 5000);
	desk_hang_up(k);
}

static void lower_lost(void **state)
{
	static char lower[20001];

	make_long();
	memcpy(lower, long_program, sizeof lower);
	rig_program(&r, 0, UP);
	rig_program(&r, 1, lower);
	begin(upper_only);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_LOST, CARRY_HELD_NEW, CARRY_HELD_STUMP);
	assert_int_equal(r.outcome.item, 1);
}

static void no_dc1(void **state)
{
	begin(never_asks);
	r.order.item[0].line.serial.first_ms = 700;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NO_START, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.steps, 0); /* nothing was about to change */
}

static void server_says(struct desk *k)
{
	/* Tried again three times, since nothing was under way, and then left. */
	for (int i = 0; i < 4; i++) {
		desk_accept(k);
		desk_say(k, "Port already in use\r\n", 21);
		desk_hang_up(k);
	}
}

static void hangs_up_while_idle(struct desk *k)
{
	desk_accept(k);
	desk_hear_for(k, 300);
	desk_hang_up(k);
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	desk_hang_up(k); /* and once more between the programs */
	k->mark = k->n;
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 300);
}

/* A device server hangs up on a silent line before the operator came: the line is opened again, and
 * each program arrives once. */
static void opened_again(void **state)
{
	static const char begins[] = "\xA5\x0A\xCF"; /* %, LF, O in ISO 840 */
	unsigned char *at;

	begin(hangs_up_while_idle);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	at = memmem(d.heard, d.n, begins, 3);
	assert_non_null(at);
	at = memmem(at + 3, d.n - (size_t)(at + 3 - d.heard), begins, 3);
	assert_non_null(at);
	assert_null(memmem(at + 3, d.n - (size_t)(at + 3 - d.heard), begins, 3));
}

static void device_server_refuses(void **state)
{
	begin(server_says);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "Port already in use"));
}

static void nobody_there(void **state)
{
	int port;

	begin(never_asks);
	port = d.port;
	desk_close(&d);
	/* The second line cannot be reached: nothing goes over the first. */
	desk_open(&d, never_asks);
	desk_line(&d, &r, 0);
	snprintf(r.order.item[1].line.serial.address, 64, "tcp://127.0.0.1:%d", port);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 1);
	assert_int_equal(d.n, 0);
	snprintf(r.order.item[0].line.serial.address, 64, "tcp://no-such-host.invalid:1");
	rig_run(&r);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

static struct desk other;
static const char *upper_text, *lower_text;

static void takes_one(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	*(k == &d ? &upper_text : &lower_text) = desk_text(k);
}

static void two_lines(void **state)
{
	desk_open(&d, takes_one);
	desk_open(&other, takes_one);
	desk_line(&d, &r, 0);
	desk_line(&other, &r, 1);
	rig_run(&r);
	desk_close(&d);
	desk_close(&other);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_string_equal(upper_text, UP);
	assert_string_equal(lower_text, LO);
}

/*
 * The control stops us near the end, has all of the upper program by then, empties its buffer, goes
 * on (DC1) and ends (DC3): that DC1 does not ask for the lower program. The next one does.
 */
static void goes_on_after_the_end(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	say(k, DC3);
	desk_hear_for(k, 400);
	first = desk_text(k);
	say(k, DC1);
	desk_hear_for(k, 300);
	say(k, DC3);
	if (desk_hear_for(k, 2500) > 1) /* at most the line end after the closing % */
		k->failed = true;
	k->mark = k->n;
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	second = desk_text(k);
}

static void a_late_dc1_is_no_request(void **state)
{
	begin(goes_on_after_the_end);
	r.order.item[1].line.serial.first_ms = 20000;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_string_equal(second, LO);
}

static void stops_at_the_end(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	say(k, DC3);
	desk_hear_for(k, 150);
	first = desk_text(k);
	say(k, DC1); /* soon, as an operator who is quick, and for good */
	desk_hear_program(k);
	say(k, DC3);
	desk_hear_for(k, 150);
	second = desk_text(k);
}

static void dc3_at_the_end_then_a_request(void **state)
{
	begin(stops_at_the_end);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_non_null(strstr(second, "LOWER"));
	assert_null(strstr(first, "LOWER"));
}

static void asks_and_gets_nothing(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	if (desk_hear_for(k, 1000))
		k->failed = true;
}

static enum rig_answer how;

static enum rig_answer answer_so(struct rig *rig, const struct carry_step *s)
{
	return how;
}

static void steps_that_are_not_granted(void **state)
{
	static const enum rig_answer ways[] = {RIG_REFUSE, RIG_CANCEL, RIG_TERM, RIG_HANG_UP};

	for (size_t i = 0; i < 4; i++) {
		how = ways[i];
		r.on_step = answer_so;
		begin(asks_and_gets_nothing);
		rig_run(&r);
		desk_close(&d);
		if (how != RIG_HANG_UP)
			ended(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
		assert_true(WIFEXITED(r.status));
		assert_int_equal(d.n, 0);
	}
}

static void asks_and_stops_at_once(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	usleep(20000);
	say(k, DC3);
	if (desk_hear_for(k, 500))
		k->failed = true;
	say(k, DC1);
	desk_hear_program(k);
}

static enum rig_answer answer_late(struct rig *rig, const struct carry_step *s)
{
	usleep(100000);
	return RIG_GO;
}

/* DC3 that comes while the step is written down is heard before the first character. */
static void a_stop_before_the_grant(void **state)
{
	r.on_step = answer_late;
	begin(asks_and_stops_at_once);
	r.order.items = 1;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
}

static void cancel_in_the_middle(struct rig *rig, const struct carry_progress *p)
{
	if (p->phase == CARRY_PHASE_SEND && p->bytes > 1000)
		message_send(rig->sock, CARRY_CANCEL, NULL, NULL, 0, 0);
}

static void takes_what_comes(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_for(k, 4000);
}

static void a_cancel_leaves_a_stump(void **state)
{
	make_long();
	begin(takes_what_comes);
	r.order.item[0].line.serial.baud = 38400;
	r.on_progress = cancel_in_the_middle;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_STUMP, CARRY_HELD_OLD);
	assert_true(d.n < strlen(long_program));
}

/* While it waits for the control the carrier shows that it lives. */
static void heartbeats(void **state)
{
	begin(never_asks);
	r.order.item[0].line.serial.first_ms = 2500;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NO_START, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_true(r.progresses >= 3);
}

static void bytes_that_cannot_go(void **state)
{
	begin(never_asks);
	rig_program(&r, 1, "%\nO1\nG0X40.\x13\nM30\n%\n"); /* DC3 inside */
	rig_run(&r);
	ended(CARRY_ERROR_BYTE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 1);
	assert_non_null(strstr(r.outcome.text, "line 3"));
	rig_program(&r, 1, "%\nO1(\xc2\xb0)\nM30\n%\n"); /* no character of a 7-bit line */
	rig_run(&r);
	ended(CARRY_ERROR_BYTE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	desk_close(&d);
	assert_int_equal(d.fd, -1);
	assert_int_equal(r.progresses, 0); /* no line was opened */
}

static void an_inspection_knows_nothing(void **state)
{
	r.order.act = CARRY_INSPECT;
	begin(never_asks);
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_UNKNOWN, CARRY_HELD_UNKNOWN);
	assert_int_equal(d.fd, -1); /* nobody connected */
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(both_go_when_asked),
	    T(each_framing_of_its_own),
	    T(without_dc1),
	    T(dc3_holds),
	    T(memory_full),
	    T(alarm_text),
	    T(alarm_and_stop),
	    T(noise_is_no_alarm),
	    T(line_lost),
	    T(lower_lost),
	    T(no_dc1),
	    T(device_server_refuses),
	    T(opened_again),
	    T(nobody_there),
	    T(two_lines),
	    T(a_late_dc1_is_no_request),
	    T(dc3_at_the_end_then_a_request),
	    T(steps_that_are_not_granted),
	    T(a_stop_before_the_grant),
	    T(a_cancel_leaves_a_stump),
	    T(heartbeats),
	    T(bytes_that_cannot_go),
	    T(an_inspection_knows_nothing),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
