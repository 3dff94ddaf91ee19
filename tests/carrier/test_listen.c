/*
 * Goal: what a control punches while there is no order is heard whole, or kept as what it is; whoever
 * stops the listening loses nothing that is just coming; lines and adapters may come and go.
 */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "fake_sys.h"
#include "port_case.h"

#define CALL "%\nO9999(YOKE BRING J4417)\nM30\n%\n"

static bool words; /* the channels have words */
static unsigned away, there; /* times that it was told so */

static void told(struct rig *k, const struct carry_progress *p)
{
	away += p->phase == CARRY_PHASE_AWAY;
	there += p->phase == CARRY_PHASE_LISTEN;
}

static void cancel(void)
{
	message_send(r.sock, CARRY_CANCEL, NULL, NULL, 0, 0);
}

static void say_text(struct desk *k, const char *s)
{
	desk_say(k, s, strlen(s));
}

static void listen_over(void (*script)(struct desk *), uint32_t items)
{
	away = there = 0;
	begin(script);
	r.order.act = CARRY_LISTEN;
	r.order.items = items;
	r.on_progress = told;
	for (uint32_t i = 0; i < items; i++) {
		r.order.item[i].line.serial.code = LINE_CODE_ASCII;
		if (words)
			strcpy(r.order.item[i].line.serial.channel_word, r.order.word[i].word);
	}
	rig_run(&r);
	desk_close(&d);
	assert_true(r.has_outcome);
	assert_int_equal(r.outcome.error, CARRY_ERROR_CANCELLED);
}

static void content(unsigned i, enum carry_role role, const char *text)
{
	assert_true(r.contents > i);
	assert_int_equal(r.content[i].head.role, role);
	if (role == CARRY_ROLE_UNASKED)
		assert_string_equal(r.content[i].text, text);
	else
		assert_non_null(strstr(r.content[i].head.note, text));
}

/* A leader, the text, DC4: heard at once. What comes between texts is nothing. */
static void calls(struct desk *k)
{
	desk_accept(k);
	desk_say(k, "\0\0\0\r\n\x13\x11", 7);
	say_text(k, "\x12" CALL "\x14");
	desk_hear_for(k, 100);
	say_text(k, CALL "\x14");
	desk_hear_for(k, 100);
	cancel();
}

static void a_call(void **state)
{
	listen_over(calls, 2);
	assert_int_equal(r.contents, 2);
	content(0, CARRY_ROLE_UNASKED, CALL);
	content(1, CARRY_ROLE_UNASKED, CALL);
	assert_int_equal(r.outcome.channel[0].asked, 0);
	assert_int_equal(r.steps, 0);
}

/* On a line that both channels share, the word in the stream says whose it is. */
static void calls_with_words(struct desk *k)
{
	desk_accept(k);
	say_text(k, "%\nCH2\nO9999(YOKE BRING J4417)\nM30\n%\n\x14");
	desk_hear_for(k, 100);
	say_text(k, "%\nCH1\nO9999(YOKE BRING J4417)\nM30\n%\n\x14");
	desk_hear_for(k, 100);
	say_text(k, CALL "\x14");
	desk_hear_for(k, 100);
	cancel();
}

static void calls_of_both_channels(void **state)
{
	static const uint32_t whose[] = {1, 0, 0};

	for (int i = 0; i < 2; i++)
		strcpy(r.order.word[i].word, i ? "CH2" : "CH1");
	words = true;
	listen_over(calls_with_words, 2);
	words = false;
	assert_int_equal(r.contents, 3);
	for (unsigned i = 0; i < 3; i++) {
		content(i, CARRY_ROLE_UNASKED, CALL);
		assert_int_equal(r.content[i].head.item, whose[i]);
	}
}

/* Without DC4 the silence after the closing % ends it, soon: an operator waits. */
static void falls_silent(struct desk *k)
{
	desk_accept(k);
	say_text(k, CALL);
	desk_hear_for(k, 1600);
	cancel();
}

static void ended_by_silence(void **state)
{
	listen_over(falls_silent, 1);
	assert_int_equal(r.contents, 1);
	content(0, CARRY_ROLE_UNASKED, CALL);
}

/* The operator, or a macro, sets the control to read at once. */
static void asks_at_once(struct desk *k)
{
	desk_accept(k);
	say_text(k, CALL "\x11");
	desk_hear_for(k, 200);
	cancel();
}

static void asks_and_takes_back(struct desk *k)
{
	desk_accept(k);
	say_text(k, CALL "\x14\x11\x93");
	desk_hear_for(k, 200);
	cancel();
}

static void asks_for_nothing(struct desk *k)
{
	desk_accept(k);
	say_text(k, "\x11");
	desk_hear_for(k, 200);
	cancel();
}

static void early_requests(void **state)
{
	listen_over(asks_at_once, 1);
	content(0, CARRY_ROLE_UNASKED, CALL);
	assert_int_equal(r.outcome.channel[0].asked, 1);
	listen_over(asks_and_takes_back, 1);
	assert_int_equal(r.outcome.channel[0].asked, 0);
	listen_over(asks_for_nothing, 1);
	assert_int_equal(r.outcome.channel[0].asked, 0);
	/* On a shared line nobody knows which channel asks. */
	listen_over(asks_at_once, 2);
	content(0, CARRY_ROLE_UNASKED, CALL);
	assert_int_equal(r.outcome.channel[0].asked, 0);
}

/* And what is made of it: the next order begins without the key being pressed again. */
static void has_asked(struct desk *k)
{
	desk_accept(k);
	k->mark = k->n;
	if (!desk_hear_program(k))
		k->failed = true;
	desk_hear_for(k, 200);
}

static void passed_on(void **state)
{
	begin(has_asked);
	r.order.items = 1;
	r.order.item[0].asked = true;
	rig_run(&r);
	desk_close(&d);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_UNKNOWN);
}

/* Stop comes in the middle of a text: it is heard to its end. */
static void is_stopped(struct desk *k)
{
	desk_accept(k);
	desk_say(k, CALL, 12);
	desk_hear_for(k, 100);
	cancel();
	desk_hear_for(k, 100);
	say_text(k, &CALL[12]);
	desk_hear_for(k, 1500);
}

static void is_stopped_for_good(struct desk *k)
{
	desk_accept(k);
	desk_say(k, CALL, 12);
	desk_hear_for(k, 100);
	cancel();
	desk_hear_for(k, 1500);
}

/*
 * A text that goes on and on after the stop. The parent gives up a carrier that is silent, and is
 * patient with one that listens only until it has asked it to stop.
 */
static void is_stopped_and_goes_on(struct desk *k)
{
	desk_accept(k);
	desk_say(k, CALL, 12);
	desk_hear_for(k, 100);
	cancel();
	there = 0;
	for (int i = 0; i < 20; i++) {
		desk_say(k, "G0\n", 3);
		desk_hear_for(k, 100);
	}
	say_text(k, &CALL[12]);
	desk_hear_for(k, 1500);
}

static void beats_after_the_stop(void **state)
{
	listen_over(is_stopped_and_goes_on, 1);
	assert_int_equal(r.contents, 1);
	assert_true(there + away >= 2);
}

static void stopped_in_a_text(void **state)
{
	/* Also a text that is never whole is waited for no longer than its silence. */
	listen_over(is_stopped_for_good, 1);
	content(0, CARRY_ROLE_RAW, "no closing %");
	listen_over(is_stopped, 1);
	assert_int_equal(r.contents, 1);
	content(0, CARRY_ROLE_UNASKED, CALL);
}

/* A program goes on for longer than an order waits for noise, 30 s: it was cut off there, and nothing of
 * it was kept. */
static void is_long(struct desk *k)
{
	desk_accept(k);
	say_text(k, "%\nO7000\n");
	desk_hear_for(k, 100);
	cancel();
	for (int i = 0; i < 33; i++) {
		say_text(k, "G1 X1.5\n");
		desk_hear_for(k, 1000);
	}
	say_text(k, "M30\n%\n\x14");
	desk_hear_for(k, 300);
}

static void a_long_text(void **state)
{
	begin(is_long);
	r.order.act = CARRY_LISTEN;
	r.order.items = 1;
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	r.order.item[0].line.serial.silence_ms = 3000;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_CANCELLED);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_UNASKED);
	assert_int_equal(strncmp(r.content[0].text, "%\nO7000\n", 8), 0);
	assert_non_null(strstr(r.content[0].text, "M30\n%\n"));
}

static void is_cut(struct desk *k)
{
	desk_accept(k);
	desk_say(k, CALL, 12);
	desk_hear_for(k, 100);
	desk_hang_up(k);
	desk_accept(k);
	say_text(k, CALL "\x14");
	desk_hear_for(k, 200);
	cancel();
}

static void a_lost_line(void **state)
{
	listen_over(is_cut, 1);
	assert_int_equal(r.contents, 2);
	content(0, CARRY_ROLE_RAW, "the connection was lost");
	content(1, CARRY_ROLE_UNASKED, CALL);
	assert_int_equal(away, 1);
	assert_int_equal(there, 2);
}

/* Words of a device server, garbage of a control that is switched on: no %, no program. */
static void greets(struct desk *k)
{
	desk_accept(k);
	say_text(k, "Port 3 ready\r\n");
	desk_hear_for(k, 1500);
	cancel();
}

static void a_greeting(void **state)
{
	listen_over(greets, 1);
	assert_int_equal(r.contents, 0);
}

/* The listener hangs up, and for a while the device server holds its port for it: it says so, as data,
 * and hangs up. A fetch that came right then failed, "the connection was lost", each time. */
static void is_still_in_use(struct desk *k)
{
	desk_accept(k);
	say_text(k, "Port already in use\r\n");
	desk_hear_for(k, 100);
	desk_hang_up(k);
	desk_accept(k);
	say_text(k, CALL "\x14");
	desk_hear_for(k, 500);
}

static void a_fetch_behind_a_listener(void **state)
{
	begin(is_still_in_use);
	r.order.act = CARRY_FETCH;
	r.order.items = 1;
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	rig_run(&r);
	desk_close(&d);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.contents, 1);
	assert_int_equal(r.content[0].head.role, CARRY_ROLE_COPY);
	assert_string_equal(r.content[0].text, CALL);
}

/* Its words in a line that is listened to are no capture for the log either. */
static void is_refused(struct desk *k)
{
	desk_accept(k);
	say_text(k, "Port already in use\r\n");
	desk_hear_for(k, 100);
	desk_hang_up(k);
	desk_accept(k);
	desk_hear_for(k, 300);
	cancel();
}

static void a_listener_is_refused(void **state)
{
	listen_over(is_refused, 1);
	assert_int_equal(r.contents, 0);
}

/* 7 bits with even parity, read as 8: "%" is A5 hex. The example of the trade's cases. */
static void has_other_framing(struct desk *k)
{
	static const unsigned char punched[] = {0xA5, 0x0A, 0xCF, 0xB4, 0xB4, 0xB1, 0xB7, 0x0A, 0x47,
	    0x30, 0xD8, 0xB4, 0x30, 0x2E, 0x0A, 0x4D, 0x33, 0x30, 0x0A, 0xA5, 0x0A};

	desk_accept(k);
	desk_say(k, punched, sizeof punched);
	desk_hear_for(k, 1500);
	desk_say(k, punched, sizeof punched);
	desk_hear_for(k, 1500);
	cancel();
}

/* It is kept, but not over and over: noise has no end. */
static void wrong_framing(void **state)
{
	listen_over(has_other_framing, 1);
	assert_int_equal(r.contents, 1);
	content(0, CARRY_ROLE_RAW, "parity");
}

/* J4417 was J4411: the port says so of the last 7 (FF 00, PARMRK of POSIX.1). */
static void damaged_at_once(struct desk *k)
{
	static const char text[] = "%\nO9999(YOKE BRING J441\xFF\0"
	                           "7)\nM30\n%\n\x14";

	desk_hear_for(k, 700);
	desk_say(k, text, sizeof text - 1);
	desk_hear_for(k, 300);
	cancel();
}

/* A call comes whole in one read where the network or an adapter gathers it: what was damaged in it
 * was taken for errors from before it, and another pair than asked for was brought. */
static void errors_of_the_first_read(void **state)
{
	begin_port(damaged_at_once);
	r.order.act = CARRY_LISTEN;
	r.order.items = 1;
	r.order.item[0].line.serial.code = LINE_CODE_ASCII;
	rig_run(&r);
	end_port();
	assert_int_equal(r.contents, 1);
	content(0, CARRY_ROLE_RAW, "the port counted errors");
}

/* The adapter is plugged in later, and pulled out at the end. */
static void comes_and_goes(struct desk *k)
{
	desk_hear_for(k, 2500);
	fake_sys_usb(rig_path(&r, "sys"), "ttyS90", "1.2", "A1B2C3", 0);
	for (int i = 0; i < 100 && !there; i++)
		desk_hear_for(k, 100);
	say_text(k, CALL "\x14");
	desk_hear_for(k, 300);
	fake_sys_unplug(rig_path(&r, "sys"), "ttyS90");
	desk_hang_up(k);
	for (int i = 0; i < 30 && away < 2; i++)
		usleep(100000);
	cancel();
}

static void an_adapter(void **state)
{
	away = there = 0;
	begin_port(comes_and_goes);
	fake_sys_unplug(rig_path(&r, "sys"), "ttyS90");
	r.order.act = CARRY_LISTEN;
	r.order.item[0].line.serial.code = r.order.item[1].line.serial.code = LINE_CODE_ASCII;
	r.on_progress = told;
	rig_run(&r);
	end_port();
	assert_int_equal(r.outcome.error, CARRY_ERROR_CANCELLED);
	assert_int_equal(r.contents, 1);
	content(0, CARRY_ROLE_UNASKED, CALL);
	assert_int_equal(away, 2);
	assert_int_equal(there, 1);
}

#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    T(calls_of_both_channels),
	    T(a_call),
	    T(ended_by_silence),
	    T(early_requests),
	    T(passed_on),
	    T(beats_after_the_stop),
	    T(stopped_in_a_text),
	    T(a_long_text),
	    T(a_lost_line),
	    T(a_greeting),
	    T(a_fetch_behind_a_listener),
	    T(a_listener_is_refused),
	    T(wrong_framing),
	    T(errors_of_the_first_read),
	    T(an_adapter),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
