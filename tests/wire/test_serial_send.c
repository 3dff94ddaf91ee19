/* Goal: each state, transition and end of the sender, on a clock of the test's own. */
#include "drive.h"

#include <stdlib.h>
#include <string.h>

static const char PROGRAM[] = "%\nO4417(BUSH)\nN10 G0 X40. Z3.\nN20 G1 Z-12.5 F0.1\nM30\n%\n";

static void expect_end(
    const struct drive *d, enum serial_send_state state, enum serial_send_reason reason)
{
	struct serial_send_outcome o = drive_outcome(d);

	assert_int_equal(o.state, state);
	assert_int_equal(o.reason, reason);
	assert_true(serial_send_deadline(d->s) == SERIAL_SEND_NEVER);
}

static void expect_arrived(const struct drive *d, const char *program)
{
	struct serial_send_outcome o = drive_outcome(d);

	assert_int_equal(o.state, SERIAL_SEND_DONE);
	assert_int_equal(o.bytes, strlen(program));
	assert_int_equal(o.total, strlen(program));
	assert_int_equal(o.block, o.blocks);
	assert_int_equal(d->n, strlen(program));
	assert_memory_equal(d->out, program, d->n);
}

/* Done is said after the last bit had its time, and not much later. */
static void plain_and_drained(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {.now = 123456};
	uint64_t line_ms = (strlen(PROGRAM) * 11 * 1000 + 9599) / 9600;

	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_until(&d, d.now + line_ms - 1);
	assert_int_equal(drive_outcome(&d).bytes, strlen(PROGRAM));
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_DRAINING);
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_true(d.now >= 123456 + line_ms);
	assert_true(d.now <= 123456 + line_ms + 2);
	expect_arrived(&d, PROGRAM);
	assert_int_equal(drive_outcome(&d).holds, 0);
	drive_end(&d);
}

static void waits_for_dc1(void **state)
{
	static const uint8_t starts[] = {0x11, 0x91};
	struct line_serial settings = drive_settings();

	settings.wait_dc1 = true;
	for (size_t i = 0; i < 2; i++) {
		struct drive d = {0};

		drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
		drive_until(&d, 1000000); /* first_ms 0: for ever */
		drive_hear(&d, 0x13);
		drive_hear(&d, 'x');
		assert_int_equal(d.n, 0);
		assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_WAITING);
		assert_false(drive_outcome(&d).held);
		drive_hear(&d, starts[i]);
		assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_SENDING);
		drive_until(&d, SERIAL_SEND_NEVER);
		expect_arrived(&d, PROGRAM);
		assert_int_equal(drive_outcome(&d).other, 1);
		drive_end(&d);
	}
}

static void no_dc1(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {.now = 50};

	settings.wait_dc1 = true;
	settings.first_ms = 2000;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_until(&d, 2049);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_WAITING);
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_int_equal(d.now, 2050);
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_NO_DC1);
	assert_int_equal(d.n, 0);
	drive_hear(&d, 0x11);
	assert_int_equal(serial_send_take(d.s, d.out, DRIVE_MAX, d.now), 0);
	drive_end(&d);
}

/* DC3 with and without parity in bit 8 stops us; DC1 goes on without losing or doubling a byte. */
static void held_and_resumed(void **state)
{
	static const uint8_t stops[] = {0x13, 0x93}, starts[] = {0x11, 0x91};
	struct line_serial settings = drive_settings();

	for (size_t i = 0; i < 4; i++) {
		struct drive d = {0};
		struct serial_send_outcome o;
		size_t before;

		drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
		drive_until(&d, 15);
		drive_hear(&d, stops[i & 1]);
		before = d.n;
		drive_until(&d, 500);
		drive_hear(&d, stops[i & 1]); /* said again: no news */
		drive_until(&d, 1015);
		assert_int_equal(d.n, before);
		assert_int_equal(serial_send_ready(d.s, d.now), 0);
		assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_HELD);
		drive_hear(&d, starts[i >> 1]);
		drive_until(&d, SERIAL_SEND_NEVER);
		expect_arrived(&d, PROGRAM);
		o = drive_outcome(&d);
		assert_int_equal(o.holds, 1);
		assert_int_equal(o.held_ms, 1000);
		assert_true(o.after_dc3 > 0 && o.after_dc3 <= settings.reserve);
		assert_false(o.held);
		drive_end(&d);
	}
}

/* The trade's case "memory full": DC3 for ever in the middle. The place is told. */
static void held_too_long(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	struct serial_send_outcome o;

	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_until(&d, 20);
	drive_hear(&d, 0x13);
	drive_until(&d, 20 + settings.stall_ms - 1);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_HELD);
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_int_equal(d.now, 20 + settings.stall_ms);
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_STALL);
	o = drive_outcome(&d);
	assert_int_equal(o.bytes, d.n);
	assert_true(o.bytes < o.total);
	assert_int_equal(
	    o.block, 3); /* 2 + 12 + 16 characters are three blocks; the fourth is not whole */
	assert_true(o.bytes >= 30 && o.bytes < 49);
	assert_int_equal(o.held_ms, settings.stall_ms);
	assert_true(o.held);
	drive_end(&d);
}

/* The caller cannot write: it never takes, and the sender notices. */
static void line_takes_nothing(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	assert_int_equal(serial_send_ready(d.s, 0), 16);
	assert_int_equal(serial_send_take(d.s, d.out, 5, 0), 5);
	d.now = serial_send_deadline(d.s);
	assert_true(d.now > settings.stall_ms && d.now <= settings.stall_ms + 6);
	serial_send_tick(d.s, d.now - 1);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_SENDING);
	serial_send_tick(d.s, d.now);
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_STALL);
	assert_int_equal(drive_outcome(&d).bytes, 5);
	drive_end(&d);
}

static void lost_and_cancelled(void **state)
{
	static const struct {
		void (*end)(struct serial_send *s, uint64_t now);
		enum serial_send_reason reason;
	} ways[] = {
	    {serial_send_lost, SERIAL_SEND_LOST}, {serial_send_cancel, SERIAL_SEND_CANCELLED}};
	struct line_serial settings = drive_settings();

	for (int from = SERIAL_SEND_WAITING; from <= SERIAL_SEND_DONE; from++) {
		for (size_t i = 0; i < 2; i++) {
			struct drive d = {0};
			size_t n;

			settings.wait_dc1 = from == SERIAL_SEND_WAITING;
			drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
			drive_until(&d, from < SERIAL_SEND_DRAINING ? 20 : 55);
			if (from == SERIAL_SEND_HELD)
				drive_hear(&d, 0x13);
			if (from == SERIAL_SEND_DONE)
				drive_until(&d, SERIAL_SEND_NEVER);
			assert_int_equal(drive_outcome(&d).state, from);
			n = d.n;
			ways[i].end(d.s, d.now);
			drive_until(&d, d.now + 10000);
			assert_int_equal(d.n, n);
			if (from == SERIAL_SEND_DONE)
				expect_end(&d, SERIAL_SEND_DONE, SERIAL_SEND_OK);
			else
				expect_end(&d, SERIAL_SEND_FAILED, ways[i].reason);
			drive_end(&d);
		}
	}
}

/* A control that stops and goes for ever is ended by the total deadline. */
static void too_long_in_all(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	settings.total_ms = 5000;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_hear(&d, 0x13);
	drive_until(&d, 4999);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_HELD);
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_int_equal(d.now, 5000);
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_TOTAL);
	drive_end(&d);
}

/* total_ms 0: four times the line's time plus stall_ms, from the moment that sending begins. */
static void computed_total(void **state)
{
	static uint8_t program[9600];
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	memset(program, 'X', sizeof(program));
	settings.wait_dc1 = true;
	settings.stall_ms = 1000;
	drive_begin(&d, &settings, program, sizeof(program));
	drive_until(&d, 500000);
	drive_hear(&d, 0x11);
	for (; drive_outcome(&d).state != SERIAL_SEND_FAILED; d.now += 100) {
		drive_hear(&d, 0x13); /* one short breath now and then keeps the stall away */
		serial_send_tick(d.s, d.now);
		drive_hear(&d, 0x11);
	}
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_TOTAL);
	/* 9600 characters of 11 bits at 9600 baud are 11 s. */
	assert_int_equal(d.now - 100, 500000 + 4 * 11000 + 1000);
	drive_end(&d);
}

/* A hold that ended is no stall: the line gets its whole time from there. */
static void a_hold_starts_the_stall_anew(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	settings.total_ms = 100000;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_hear(&d, 0x13);
	d.now = 29999;
	drive_hear(&d, 0x11);
	serial_send_tick(d.s, 59998);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_SENDING);
	serial_send_tick(d.s, 59999);
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_STALL);
	drive_end(&d);
}

/* Many controls stop the reader with DC3 at the closing % and never start it again: the program is
 * there. */
static void stopped_at_the_end(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	struct serial_send_outcome o;

	settings.trailer = 200;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	while (drive_outcome(&d).bytes < strlen(PROGRAM))
		drive_until(&d, d.now + 1);
	drive_hear(&d, 0x13);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_HELD);
	drive_until(&d, SERIAL_SEND_NEVER);
	o = drive_outcome(&d);
	assert_int_equal(o.state, SERIAL_SEND_DONE);
	assert_int_equal(o.bytes, o.total);
	assert_true(o.held);
	assert_true(o.cut_tail);
	assert_true(o.characters < o.total + 200);
	assert_int_equal(o.held_ms, SERIAL_SEND_END_HOLD_MS);
	drive_end(&d);

	/* A buffer that was only full goes on, and the trailer arrives. */
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	while (drive_outcome(&d).bytes < strlen(PROGRAM))
		drive_until(&d, d.now + 1);
	drive_hear(&d, 0x13);
	drive_until(&d, d.now + 1500);
	drive_hear(&d, 0x11);
	drive_until(&d, SERIAL_SEND_NEVER);
	o = drive_outcome(&d);
	assert_int_equal(o.state, SERIAL_SEND_DONE);
	assert_int_equal(o.characters, o.total + 200);
	assert_false(o.held);
	assert_false(o.cut_tail);
	drive_end(&d);
}

/* DC3 while the last characters leave cannot call them back; it is told. */
static void held_while_draining(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	while (drive_outcome(&d).state != SERIAL_SEND_DRAINING)
		drive_until(&d, d.now + 1);
	drive_hear(&d, 0x13);
	drive_until(&d, SERIAL_SEND_NEVER);
	expect_arrived(&d, PROGRAM);
	assert_true(drive_outcome(&d).held);
	assert_true(drive_outcome(&d).after_dc3 > 0);
	drive_end(&d);
}

/*
 * At 9600 baud 7E2 a character takes 11 / 9600 s (start + data + parity + stop bits); a pause
 * counts from when it has left the line. After an end of block the longer of both pauses holds.
 */
static void pauses_after_characters(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	uint64_t before = 0;
	size_t n = 0;

	settings.char_pause = 10;
	settings.block_pause = 50;
	drive_begin(&d, &settings, "AB\nCD", 5);
	while (n < 5) {
		drive_until(&d, d.now + 1);
		assert_in_range(d.n, n, n + 1);
		if (d.n > n && n > 0) {
			uint64_t pause = n == 3 ? 50 : 10;

			assert_in_range(d.now - before, pause + 1, pause + 4);
		}
		before = d.n > n ? d.now : before;
		n = d.n;
		assert_true(d.now < 1000);
	}
	assert_memory_equal(d.out, "AB\nCD", 5);
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_DONE);
	drive_end(&d);

	/* A pause between blocks that is shorter than that between characters shortens nothing. */
	settings.block_pause = 5;
	drive_begin(&d, &settings, "A\nB", 3);
	before = d.now;
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_in_range(d.now - before, 2 * 10 + 3, 2 * 10 + 9);
	drive_end(&d);
}

static void refused_at_the_beginning(void **state)
{
	struct line_serial good = drive_settings(), s;
	struct serial_text_refusal refusal;

	s = good;
	s.baud = 0;
	assert_null(serial_send_new(&s, BYTES("M30\n"), 0, &refusal));
	assert_int_equal(refusal.fault, SERIAL_TEXT_SETTINGS);
	s = good;
	s.baud = UINT32_MAX;
	assert_null(serial_send_new(&s, BYTES("M30\n"), 0, &refusal));
	assert_int_equal(refusal.fault, SERIAL_TEXT_SETTINGS);
	s = good;
	s.reserve = 0;
	assert_null(serial_send_new(&s, BYTES("M30\n"), 0, &refusal));
	assert_int_equal(refusal.fault, SERIAL_TEXT_SETTINGS);
	s = good;
	s.stall_ms = 0;
	assert_null(serial_send_new(&s, BYTES("M30\n"), 0, &refusal));
	assert_int_equal(refusal.fault, SERIAL_TEXT_SETTINGS);
	assert_null(serial_send_new(&good, BYTES("%\nG0\x13\n"), 0, &refusal));
	assert_int_equal(refusal.fault, SERIAL_TEXT_DEVICE);
	assert_int_equal(refusal.offset, 4);
	assert_null(serial_send_new(&good, NULL, 0, 0, &refusal));
	assert_int_equal(refusal.fault, SERIAL_TEXT_EMPTY);
	serial_send_free(NULL);
}

/* A clock at the end of its range, or one that runs backwards, neither trips nor hangs the sender.
 */
static void absurd_clocks(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {.now = UINT64_MAX - 10};

	settings.total_ms = UINT32_MAX;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	serial_send_take(d.s, d.out, 4, UINT64_MAX);
	assert_true(serial_send_deadline(d.s) == SERIAL_SEND_NEVER);
	serial_send_take(d.s, d.out, 4, 0);
	serial_send_tick(d.s, 5);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_SENDING);
	drive_end(&d);

	d.now = 0;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	serial_send_queued(d.s, 0, UINT64_MAX);
	serial_send_queued(d.s, 1, 0);
	serial_send_tick(d.s, UINT64_MAX);
	expect_end(&d, SERIAL_SEND_FAILED, SERIAL_SEND_STALL);
	drive_end(&d);
}

static void every_reason_is_told(void **state)
{
	assert_string_equal(serial_send_says(SERIAL_SEND_OK), "");
	for (int r = SERIAL_SEND_STALL; r <= SERIAL_SEND_TOTAL; r++)
		assert_true(strlen(serial_send_says((enum serial_send_reason)r)) > 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(plain_and_drained),
	    cmocka_unit_test(waits_for_dc1),
	    cmocka_unit_test(no_dc1),
	    cmocka_unit_test(held_and_resumed),
	    cmocka_unit_test(held_too_long),
	    cmocka_unit_test(line_takes_nothing),
	    cmocka_unit_test(lost_and_cancelled),
	    cmocka_unit_test(too_long_in_all),
	    cmocka_unit_test(computed_total),
	    cmocka_unit_test(a_hold_starts_the_stall_anew),
	    cmocka_unit_test(stopped_at_the_end),
	    cmocka_unit_test(held_while_draining),
	    cmocka_unit_test(pauses_after_characters),
	    cmocka_unit_test(refused_at_the_beginning),
	    cmocka_unit_test(absurd_clocks),
	    cmocka_unit_test(every_reason_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
