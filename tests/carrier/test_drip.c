/*
 * Goal: a control that executes while it reads gets the program as slowly as it wants it, over one
 * connection and never a second one; every end has its name, its byte and its block; and nothing is
 * said of what it stores, since it stores nothing.
 *
 * What such a control says on its line is common practice: DC1 when it is set to read, DC3 while it
 * has no room, DC3 for good at M30.
 */
#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include "line_case.h"

static int set_up_drip(void **state)
{
	rig_open(&r, CARRY_DRIP);
	r.order.items = 1;
	rig_program(&r, 0, UP);
	return 0;
}

static void begin_drip(void (*script)(struct desk *))
{
	desk_open(&d, script);
	desk_line(&d, &r, 0);
}

static bool phase_seen[CARRY_PHASE_COUNT];

static void note_phase(struct rig *rig, const struct carry_progress *p)
{
	phase_seen[p->phase] = true;
}

/* The order's one end: its channel holds what it held, whatever came of it. */
static void drip_ended(enum carry_error error)
{
	assert_true(r.has_outcome);
	if (r.outcome.error != error)
		print_message("%u: %s\n", r.outcome.error, r.outcome.text);
	assert_int_equal(r.outcome.error, error);
	assert_int_equal(r.outcome.items, 1);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.channel[0].compared, 0);
	assert_null(strstr(r.outcome.text, "stump"));
	assert_null(strstr(r.outcome.text, "unknown"));
	assert_null(strstr(r.outcome.text, "delete"));
}

/* It ended in the middle: the text says where. */
static void says_where(void)
{
	char where[128];

	snprintf(where, sizeof where, "channel upper, after %llu of %llu bytes, in block %llu: ",
	    (unsigned long long)r.outcome.channel[0].bytes,
	    (unsigned long long)r.order.item[0].size,
	    (unsigned long long)r.outcome.channel[0].block + 1);
	assert_memory_equal(r.outcome.text, where, strlen(where));
	assert_in_range(r.outcome.channel[0].bytes, 1, r.order.item[0].size);
}

static const char *came;

static void executes(struct desk *k)
{
	desk_accept(k);
	if (desk_hear_for(k, 300))
		k->failed = true;
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	came = desk_text(k);
}

/* One step of its own, asked before the first character; no read-back, also where the line has one. */
static void all_of_it(void **state)
{
	static const struct carry_step feed = {CARRY_STEP_FEED, 0};

	begin_drip(executes);
	r.order.item[0].line.serial.read_back = LINE_READ_BACK_PUNCH;
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_NONE);
	assert_string_equal(came, UP);
	assert_int_equal(r.steps, 1);
	assert_memory_equal(r.step, &feed, sizeof feed);
	assert_int_equal(r.contents, 0);
	assert_int_equal(r.outcome.channel[0].bytes, strlen(UP));
	assert_non_null(strstr(r.outcome.text, "nothing of it is stored"));
}

static enum rig_answer how;

static enum rig_answer answer(struct rig *rig, const struct carry_step *step)
{
	return how;
}

static void asks_and_hears_nothing(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	if (desk_hear_for(k, 3000))
		k->failed = true;
}

/* Without the grant not one character goes. */
static void not_granted(void **state)
{
	static const enum rig_answer ways[] = {RIG_REFUSE, RIG_CANCEL, RIG_TERM};

	for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
		how = ways[i];
		begin_drip(asks_and_hears_nothing);
		r.on_step = answer;
		rig_run(&r);
		desk_close(&d);
		drip_ended(CARRY_ERROR_CANCELLED);
		assert_int_equal(r.outcome.channel[0].bytes, 0);
		assert_int_equal(r.steps, 1);
	}
}

static void holds_for_long(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 1000, 5000);
	for (int i = 0; i < 3; i++) {
		say(k, DC3);
		desk_hear_for(k, 1200);
		if (desk_hear_for(k, 200))
			k->failed = true;
		say(k, DC1);
		desk_hear_for(k, 50);
	}
	desk_hear_program(k);
}

static void holds_for_ever(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 2700, 5000);
	say(k, DC3);
	desk_hear_for(k, 8000);
}

/* Longer than stall_ms, and in all longer than total_ms: neither ends it. */
static void held_for_long(void **state)
{
	make_long();
	begin_drip(holds_for_long);
	r.order.item[0].line.serial.stall_ms = 500;
	r.order.item[0].line.serial.total_ms = 1000;
	r.on_progress = note_phase;
	memset(phase_seen, 0, sizeof phase_seen);
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].bytes, strlen(long_program));
	assert_true(r.outcome.channel[0].held_ms >= 3900);
	assert_true(phase_seen[CARRY_PHASE_FEED_WAIT] && phase_seen[CARRY_PHASE_FEED] &&
	            phase_seen[CARRY_PHASE_FEED_HELD]);
	assert_false(phase_seen[CARRY_PHASE_WAIT] || phase_seen[CARRY_PHASE_SEND] ||
	             phase_seen[CARRY_PHASE_HELD]);

	/* The same line and control, sent to: it stalls. Else this tests nothing. */
	r.order.act = CARRY_SEND;
	r.on_progress = NULL;
	begin_drip(holds_for_ever);
	r.order.item[0].line.serial.stall_ms = 500;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_STALL);
}

static char *huge;
static bool goes_on;

static void takes_nothing_for_a_while(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 2000, 5000);
	poll(NULL, 0, 4000); /* nobody reads: the connection's window closes */
	if (goes_on && !desk_hear(k, strlen(huge), 60000))
		k->failed = true;
}

/* A device server that takes nothing more for long: its window is closed, and it answers. Sent to,
 * the same stalls. */
static void closed_window(void **state)
{
	size_t size = 100000, n = 0;
	struct line_serial *line = &r.order.item[0].line.serial;
	int small = 4096;

	huge = malloc(size + 40);
	assert_non_null(huge);
	n += (size_t)sprintf(huge, "%%\nO1\n");
	while (n < size)
		n += (size_t)sprintf(huge + n, "N%zu G1 X%zu.5 Z-1.\n", n, n);
	sprintf(huge + n, "M30\n%%\n");
	rig_program(&r, 0, huge);
	for (int act = 0; act < 2; act++) {
		goes_on = !act;
		r.order.act = goes_on ? CARRY_DRIP : CARRY_SEND;
		begin_drip(takes_nothing_for_a_while);
		assert_int_equal(
		    setsockopt(d.listener, SOL_SOCKET, SO_RCVBUF, &small, sizeof small), 0);
		line->baud = 921600;
		line->framing = LINE_8N1;
		line->code = LINE_CODE_ASCII;
		line->reserve = 65536;
		line->stall_ms = 500;
		rig_run(&r);
		desk_close(&d);
		if (!goes_on) {
			assert_int_equal(r.outcome.error, CARRY_ERROR_STALL);
			continue;
		}
		drip_ended(CARRY_ERROR_NONE);
		assert_int_equal(d.n, strlen(huge));
		assert_memory_equal(d.heard, huge, d.n);
	}
	free(huge);
}

static void cut_in_the_middle(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 2700, 5000);
	desk_hang_up(k);
}

static void cut_while_held(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, 2700, 5000);
	say(k, DC3);
	desk_hear_for(k, 1500);
	desk_hang_up(k);
}

/* The carrier has ended: nobody has tried to connect once more. */
static void not_connected_again(void)
{
	struct pollfd q = {d.listener, POLLIN, 0};

	assert_int_equal(poll(&q, 1, 0), 0);
}

static void lost(void **state)
{
	void (*const scripts[])(struct desk *) = {cut_in_the_middle, cut_while_held};

	for (size_t i = 0; i < sizeof scripts / sizeof *scripts; i++) {
		make_long();
		begin_drip(scripts[i]);
		r.order.item[0].line.serial.stall_ms = 500;
		rig_run(&r);
		not_connected_again();
		desk_close(&d);
		drip_ended(CARRY_ERROR_LOST);
		says_where();
		assert_true(r.outcome.channel[0].bytes < strlen(long_program));
	}
}

static void hangs_up_first(struct desk *k)
{
	desk_accept(k);
	desk_hang_up(k);
	desk_accept(k);
	say(k, DC1);
	desk_hear_program(k);
	desk_hear_for(k, 200);
	came = desk_text(k);
}

/* Before the first character a lost connection is made anew, as for every order. */
static void lost_before_it_began(void **state)
{
	begin_drip(hangs_up_first);
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_NONE);
	assert_string_equal(came, UP);
}

static void cancel_while_held(struct rig *rig, const struct carry_progress *p)
{
	if (p->phase == CARRY_PHASE_FEED_HELD)
		message_send(rig->sock, CARRY_CANCEL, NULL, NULL, 0, 0);
}

/* A person ends it: at once, however patient it is. */
static void cancelled(void **state)
{
	make_long();
	begin_drip(holds_for_ever);
	r.on_progress = cancel_while_held;
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_CANCELLED);
	says_where();
	assert_string_equal(strrchr(r.outcome.text, ':'), ": cancelled");
}

static void alarm_while_it_executes(struct desk *k)
{
	static const char text[] = "\r\nALARM 085 OVERRUN\r\n";

	desk_accept(k);
	say(k, DC1);
	desk_hear_for(k, 300);
	desk_say(k, text, sizeof text - 1);
	desk_hear_program(k);
}

static void alarm_and_no_more(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear_for(k, 300);
	desk_say(k, "PS 085", 6);
	say(k, DC3);
	desk_hear_for(k, 1500);
	desk_hang_up(k);
}

/* What the control said in clear text is in the outcome, whichever it is. */
static void alarm_text(void **state)
{
	make_long();
	begin_drip(alarm_while_it_executes);
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_ALARM);
	assert_non_null(strstr(r.outcome.text, "the control said 'ALARM 085 OVERRUN'"));

	begin_drip(alarm_and_no_more);
	r.order.item[0].line.serial.stall_ms = 500;
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_LOST);
	says_where();
	assert_non_null(strstr(r.outcome.text, "; the control said 'PS 085'"));
}

static void stops_at_m30(struct desk *k)
{
	desk_accept(k);
	say(k, DC1);
	desk_hear(k, strlen(UP) - 2, 5000);
	say(k, DC3);
	desk_hear_for(k, 10000);
}

/* M30 is executed, and the reader stands still for good: that is the end, not a hold. */
static void stopped_at_m30(void **state)
{
	begin_drip(stops_at_m30);
	/* One character at a time, so that the closing % is still ours when M30 is there. */
	r.order.item[0].line.serial.reserve = 1;
	r.order.item[0].line.serial.char_pause = 20;
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_NONE);
	assert_in_range(r.outcome.channel[0].bytes, strlen(UP) - 2, strlen(UP) - 1);
}

/* The first DC1 has its deadline all the same. */
static void never_asked(void **state)
{
	begin_drip(never_asks);
	r.order.item[0].line.serial.first_ms = 700;
	rig_run(&r);
	desk_close(&d);
	drip_ended(CARRY_ERROR_NO_START);
	assert_int_equal(r.steps, 0);
}

/* What is no drip feed is refused whole: a share, two programs at once. */
static void refused(void **state)
{
	rig_directory(&r, 0, "upper", "1.NC");
	rig_run(&r);
	drip_ended(CARRY_ERROR_ORDER);
	assert_non_null(strstr(r.outcome.text, "over a serial line, not from a share"));
	r.order.items = 2;
	assert_int_equal(message_check(CARRY_ORDER, &r.order), -EBADMSG);
	r.order.act = CARRY_SEND;
	assert_int_equal(message_check(CARRY_ORDER, &r.order), 0);
}

int main(void)
{
#define T(name) cmocka_unit_test_setup_teardown(name, set_up_drip, tear_down)
	const struct CMUnitTest tests[] = {
	    T(all_of_it),
	    T(not_granted),
	    T(held_for_long),
	    T(closed_window),
	    T(lost),
	    T(lost_before_it_began),
	    T(cancelled),
	    T(alarm_text),
	    T(stopped_at_m30),
	    T(never_asked),
	    T(refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
