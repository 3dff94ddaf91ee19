/*
 * Goal: a control that executes while it reads is fed as slowly as it likes: no hold and no line
 * that takes nothing ends it, and not one character is lost or doubled; while everything that does
 * end a transfer keeps its name.
 *
 * That a control holds the line for as long as a block takes, and stops its reader at M30, is
 * common practice. The clock is the test's own.
 */
#include <string.h>
#include "drive.h"

static const char PROGRAM[] = "%\nO4417(BUSH)\nN10 G0 X40. Z3.\nN20 G1 Z-12.5 F0.1\nM30\n%\n";

#define DAY ((uint64_t)24 * 3600 * 1000)

static struct line_serial patient(void)
{
	struct line_serial s = drive_settings();

	s.patient = true;
	s.stall_ms = 30000;
	s.total_ms = 60000;
	return s;
}

static void expect_arrived(struct drive *d)
{
	assert_int_equal(drive_outcome(d).state, SERIAL_SEND_DONE);
	assert_int_equal(drive_outcome(d).bytes, strlen(PROGRAM));
	assert_int_equal(d->n, strlen(PROGRAM));
	assert_memory_equal(d->out, PROGRAM, d->n);
	drive_end(d);
}

/* Hold or release, as this flow does it. */
static void brake(struct drive *d, enum line_flow flow, bool on)
{
	if (flow == LINE_FLOW_XON)
		drive_hear(d, on ? 0x93 : 0x11);
	else
		serial_send_line(d->s, d->now, !on);
}

static const enum line_flow flows[] = {
    LINE_FLOW_XON, LINE_FLOW_RTSCTS, LINE_FLOW_DTRDSR, LINE_FLOW_BOTH};

/* Ten days of one block, and years. The same without patience stalls: else this tests nothing. */
static void held_for_days(void **state)
{
	static const uint64_t holds[] = {31000, DAY, 10 * DAY, 7000 * DAY};

	for (size_t i = 0; i < sizeof(flows) / sizeof(flows[0]); i++) {
		for (size_t k = 0; k < sizeof(holds) / sizeof(holds[0]); k++) {
			struct line_serial settings = patient();
			struct drive d = {.now = 1000};
			size_t at;

			settings.flow = flows[i];
			drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
			drive_until(&d, 1015);
			brake(&d, flows[i], true);
			at = d.n;
			assert_in_range(at, 1, strlen(PROGRAM) - 1);
			assert_true(serial_send_deadline(d.s) == SERIAL_SEND_NEVER);
			for (uint64_t part = 0; part < 100; part++) {
				drive_until(&d, d.now + holds[k] / 100);
				serial_send_tick(d.s, d.now);
			}
			assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_HELD);
			assert_int_equal(d.n, at);
			assert_true(drive_outcome(&d).held_ms == holds[k]);
			brake(&d, flows[i], false);
			drive_until(&d, SERIAL_SEND_NEVER);
			expect_arrived(&d);

			settings.patient = false;
			d = (struct drive){.now = 1000};
			drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
			drive_until(&d, 1015);
			brake(&d, flows[i], true);
			drive_until(&d, d.now + holds[k]);
			assert_int_equal(drive_outcome(&d).reason, SERIAL_SEND_STALL);
			drive_end(&d);
		}
	}
}

/* A connection whose window is closed, or a port whose queue does not shrink. */
static void takes_nothing_for_days(void **state)
{
	struct line_serial settings = patient();
	struct drive d = {0};

	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	d.n = serial_send_take(d.s, d.out, 5, 0);
	for (d.now = 0; d.now < 10 * DAY; d.now += 3600 * 1000) {
		serial_send_tick(d.s, d.now);
		assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_SENDING);
		assert_true(serial_send_ready(d.s, d.now) > 0);
	}
	for (uint64_t until = d.now + 10 * DAY; d.now < until; d.now += 3600 * 1000) {
		serial_send_queued(d.s, d.now, settings.reserve);
		serial_send_tick(d.s, d.now);
		assert_int_equal(serial_send_ready(d.s, d.now), 0);
	}
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_SENDING);
	serial_send_queued(d.s, d.now, 0);
	drive_until(&d, SERIAL_SEND_NEVER);
	expect_arrived(&d);
}

/* All is handed out, and what is below us is still program: days later it has left. */
static void drains_for_days(void **state)
{
	struct line_serial settings = patient();
	struct drive d = {0};

	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	while (drive_outcome(&d).state != SERIAL_SEND_DRAINING)
		drive_until(&d, d.now + 1);
	for (uint64_t until = d.now + 10 * DAY; d.now < until; d.now += 3600 * 1000) {
		serial_send_queued(d.s, d.now, 3); /* the end of block of M30, and "%\n" */
		serial_send_tick(d.s, d.now);
		assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_DRAINING);
	}
	serial_send_queued(d.s, d.now, 0);
	drive_until(&d, SERIAL_SEND_NEVER);
	expect_arrived(&d);
}

/*
 * A control that has executed M30 takes no more: what is left then is the closing % and line ends.
 * One character earlier nothing is over.
 */
static void stopped_at_m30(void **state)
{
	struct line_serial settings = patient();
	size_t body = strlen(PROGRAM) - 2;

	for (int last = 1; last >= 0; last--) {
		struct drive d = {0};
		struct serial_send_outcome o;

		settings.char_pause = 20; /* one character at a time */
		drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
		while (d.n < body - (size_t)last)
			drive_until(&d, d.now + 1);
		drive_hear(&d, 0x13);
		drive_until(&d, d.now + (last ? 10 * DAY : SERIAL_SEND_END_HOLD_MS + 100));
		o = drive_outcome(&d);
		assert_int_equal(o.state, last ? SERIAL_SEND_HELD : SERIAL_SEND_DONE);
		if (last) {
			drive_hear(&d, 0x11);
			drive_until(&d, SERIAL_SEND_NEVER);
			expect_arrived(&d);
			continue;
		}
		assert_true(o.cut_tail && o.held);
		assert_int_equal(o.bytes, body);
		assert_memory_equal(d.out, PROGRAM, body);
		drive_end(&d);
	}
}

/* The same where not DC3 keeps the rest back, but a line that takes nothing any more. */
static void the_rest_stays_below(void **state)
{
	struct line_serial settings = patient();

	for (uint64_t below = 1; below <= 3; below++) {
		struct drive d = {0};
		uint64_t from;

		drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
		while (drive_outcome(&d).state != SERIAL_SEND_DRAINING)
			drive_until(&d, d.now + 1);
		for (from = d.now; d.now < from + 2 * settings.stall_ms; d.now += 100) {
			serial_send_queued(d.s, d.now, below);
			serial_send_tick(d.s, d.now);
		}
		assert_int_equal(drive_outcome(&d).state,
		    below <= 2 ? SERIAL_SEND_DONE : SERIAL_SEND_DRAINING);
		assert_int_equal(drive_outcome(&d).cut_tail, below <= 2);
		drive_end(&d);
	}
}

/* The first DC1 keeps its deadline, and 0 is for ever. */
static void the_first_dc1(void **state)
{
	struct line_serial settings = patient();
	struct drive d = {0};

	settings.wait_dc1 = true;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_until(&d, 10 * DAY);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_WAITING);
	drive_hear(&d, 0x91);
	drive_until(&d, SERIAL_SEND_NEVER);
	expect_arrived(&d);

	settings.first_ms = 2000;
	d = (struct drive){0};
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_int_equal(drive_outcome(&d).reason, SERIAL_SEND_NO_DC1);
	assert_int_equal(d.now, 2000);
	drive_end(&d);
}

static void drops(struct serial_send *s, uint64_t now)
{
	serial_send_watched(s, now, false);
	serial_send_tick(s, now + 1000);
}

/* What ends it has its name, also after days of holding, and the place that was reached. */
static void what_ends_it(void **state)
{
	static const struct {
		void (*end)(struct serial_send *s, uint64_t now);
		enum serial_send_reason reason;
	} ways[] = {{serial_send_lost, SERIAL_SEND_LOST},
	    {serial_send_cancel, SERIAL_SEND_CANCELLED},
	    {serial_send_unplugged, SERIAL_SEND_UNPLUGGED},
	    {serial_send_break, SERIAL_SEND_BREAK}, {drops, SERIAL_SEND_DROPPED}};
	struct line_serial settings = patient();

	for (size_t i = 0; i < sizeof(ways) / sizeof(ways[0]); i++) {
		for (int held = 0; held < 2; held++) {
			struct drive d = {0};
			const char *happened = serial_send_happened(ways[i].reason);

			drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
			drive_until(&d, 20);
			if (held) {
				drive_hear(&d, 0x93);
				drive_until(&d, 10 * DAY);
			}
			ways[i].end(d.s, d.now);
			assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_FAILED);
			assert_int_equal(drive_outcome(&d).reason, ways[i].reason);
			assert_int_equal(drive_outcome(&d).bytes, d.n);
			assert_in_range(drive_outcome(&d).block, 1, 4);
			/* A control that stores nothing holds no stump. */
			assert_true(strlen(happened) > 5);
			assert_null(strstr(happened, "stump"));
			assert_null(strstr(happened, "holds"));
			drive_end(&d);
		}
	}
}

/*
 * Whatever the control says and however the line stands, for however long: it never ends by itself
 * in failure, and what arrives is the program, up to where the control may leave the rest. Without
 * patience many of the same runs fail.
 */
static void never_by_itself(void **state)
{
	static const uint8_t words[] = {0x11, 0x91, 0x13, 0x93, 0x13, 'x', 0x00};
	uint32_t seed = 4417;
	unsigned without = 0, cut = 0;

	for (int round = 0; round < 3000; round++) {
		struct line_serial settings = patient();
		uint32_t same = chance(&seed);

		settings.flow = flows[chance(&seed) % 4];
		settings.trailer = chance(&seed) % 20;
		settings.block_pause = chance(&seed) % 3 * 10;
		for (int impatient = 0; impatient < 2; impatient++) {
			struct drive d = {0};
			struct serial_send_outcome o;
			uint32_t s = same;

			settings.patient = !impatient;
			drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
			for (int step = 0; step < 30; step++) {
				uint32_t what = chance(&s);

				if (what & 1)
					drive_hear(&d, words[what / 2 % sizeof(words)]);
				else
					serial_send_line(d.s, d.now, what / 2 & 1);
				what = chance(&s);
				drive_until(&d, d.now + what % (what % 5 ? 12 : DAY));
			}
			drive_hear(&d, 0x11);
			serial_send_line(d.s, d.now, true);
			drive_until(&d, SERIAL_SEND_NEVER);
			o = drive_outcome(&d);
			if (impatient) {
				without += o.state == SERIAL_SEND_FAILED;
			} else {
				assert_int_equal(o.state, SERIAL_SEND_DONE);
				assert_true(o.bytes >= strlen(PROGRAM) - 2);
				assert_memory_equal(d.out, PROGRAM, o.bytes);
				cut += o.cut_tail;
			}
			drive_end(&d);
		}
	}
	assert_true(without > 300);
	assert_true(cut > 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(held_for_days),
	    cmocka_unit_test(takes_nothing_for_days),
	    cmocka_unit_test(drains_for_days),
	    cmocka_unit_test(stopped_at_m30),
	    cmocka_unit_test(the_rest_stays_below),
	    cmocka_unit_test(the_first_dc1),
	    cmocka_unit_test(what_ends_it),
	    cmocka_unit_test(never_by_itself),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
