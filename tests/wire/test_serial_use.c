/* Goal: the sender uses the line fully and never more than it may, whatever the caller's pace and
 * the queues below. */
#include "drive.h"

#include <string.h>

static const char PROGRAM[] = "%\nO4417(BUSH)\nN10 G0 X40. Z3.\nN20 G1 Z-12.5 F0.1\nM30\n%\n";

/* The kernel stopped the line under us (its own flow control): the queue does not shrink. */
static void stuck_below(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	size_t n = 0;

	settings.stall_ms = 1000;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	while (drive_outcome(&d).state == SERIAL_SEND_SENDING) {
		serial_send_queued(d.s, d.now, n);
		n += serial_send_take(d.s, d.out + n, 8, d.now);
		serial_send_tick(d.s, d.now);
		assert_true(n <= settings.reserve);
		d.now += 10;
	}
	assert_int_equal(drive_outcome(&d).reason, SERIAL_SEND_STALL);
	assert_true(d.now >= 1000 && d.now < 1100);
	assert_int_equal(n, 16);
	drive_end(&d);
}

/* A queue that shrinks, however slowly, is no stall; and done is not said before it is empty. */
static void slow_below(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	uint64_t queue = 0, empty_at = 0;

	settings.stall_ms = 500;
	settings.total_ms = 100000;
	drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
	for (; d.now < 60000 && drive_outcome(&d).state != SERIAL_SEND_DONE; d.now++) {
		if (d.now % 400 == 0 && queue > 0)
			empty_at = --queue > 0 ? 0 : d.now;
		serial_send_queued(d.s, d.now, queue);
		queue += serial_send_take(d.s, d.out, DRIVE_MAX, d.now);
		assert_true(queue <= settings.reserve);
		serial_send_tick(d.s, d.now);
		assert_int_not_equal(drive_outcome(&d).state, SERIAL_SEND_FAILED);
	}
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_DONE);
	assert_int_equal(drive_outcome(&d).bytes, strlen(PROGRAM));
	assert_true(empty_at > 0);
	drive_end(&d);
}

/* While somebody counts more than the reserve below, nothing is added; while the last count is not
 * 0, it is not done. */
static void counted_below(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	drive_begin(&d, &settings, BYTES("M30\n"));
	serial_send_queued(d.s, 0, 18);
	assert_int_equal(serial_send_ready(d.s, 0), 0);
	assert_int_equal(serial_send_take(d.s, d.out, DRIVE_MAX, 0), 0);
	serial_send_queued(d.s, 30, 0);
	assert_int_equal(serial_send_take(d.s, d.out, DRIVE_MAX, 30), 4);
	serial_send_queued(d.s, 31, 1);
	serial_send_tick(d.s, 500);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_DRAINING);
	assert_true(serial_send_deadline(d.s) > 500 && serial_send_deadline(d.s) < 600);
	serial_send_queued(d.s, 510, 0);
	serial_send_tick(d.s, 510);
	assert_int_equal(drive_outcome(&d).state, SERIAL_SEND_DONE);
	drive_end(&d);
}

/* Between blocks the line is silent for the pause, counted from when the end of block has left. */
static void pause_between_blocks(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive d = {0};

	settings.block_pause = 300;
	settings.eob = LINE_EOB_CRLF;
	drive_begin(&d, &settings, BYTES("%\nM30\n%\n"));
	drive_until(&d, 303);
	assert_int_equal(d.n, 3);
	drive_until(&d, 304);
	assert_int_equal(d.n, 8);
	drive_until(&d, 609);
	assert_int_equal(d.n, 8);
	drive_until(&d, SERIAL_SEND_NEVER);
	assert_int_equal(d.n, 11);
	assert_memory_equal(d.out, "%\r\nM30\r\n%\r\n", 11);
	/* 11 characters of 1.146 ms and two pauses. */
	assert_true(d.now >= 612 && d.now <= 617);
	drive_end(&d);
}

/*
 * However late and with whatever hunger the caller comes: never more than the reserve is below what
 * the line can have sent. The line of the test runs at the nominal rate.
 */
static void never_more_than_the_reserve(void **state)
{
	static uint8_t program[20000];
	uint32_t seed = 16;

	memset(program, 'X', sizeof(program));
	for (int round = 0; round < 300; round++) {
		struct line_serial settings = drive_settings();
		struct drive d = {.now = chance(&seed)};
		double pile = 0, rate;
		uint64_t before = d.now;

		settings.reserve = 1 + chance(&seed) % 64;
		settings.baud = 300u << chance(&seed) % 8;
		rate = settings.baud / 11000.0;
		drive_begin(&d, &settings, program, sizeof(program));
		while (drive_outcome(&d).state == SERIAL_SEND_SENDING && d.n < 2000) {
			size_t got;

			pile -= (double)(d.now - before) * rate;
			pile = pile < 0 ? 0 : pile;
			before = d.now;
			got = serial_send_take(d.s, d.out, 1 + chance(&seed) % 100, d.now);
			d.n += got;
			pile += (double)got;
			assert_true(pile <= settings.reserve + 1e-6);
			d.now += chance(&seed) % 40;
		}
		drive_end(&d);
	}
}

/* A device server behind a network that stands still now and then, and then brings all at once what
 * was on its way. */
struct network {
	uint64_t now, still_until;
	uint64_t on_its_way;
	double pile, rate; /* at the server, characters; and what leaves it in a millisecond */
	uint32_t seed;
	unsigned stood;
};

static void let_pass(struct network *n, uint64_t until)
{
	for (; n->now < until; n->now++) {
		if (n->now >= n->still_until && chance(&n->seed) % 300 == 0) {
			n->still_until = n->now + chance(&n->seed) % 2000;
			n->stood++;
		}
		if (n->now >= n->still_until) {
			n->pile += (double)n->on_its_way;
			n->on_its_way = 0;
		}
		n->pile = n->pile > n->rate ? n->pile - n->rate : 0;
	}
}

/* One turn of a caller, who counts what is on its way; soon, when he has written. */
static void turn_of(struct drive *d, struct network *n, uint64_t *counted)
{
	enum { SOON = 5 };
	uint64_t next;
	size_t got;

	if (n->on_its_way < *counted)
		serial_send_arrived(d->s, d->now, *counted);
	*counted = n->on_its_way;
	serial_send_queued(d->s, d->now, *counted);
	serial_send_tick(d->s, d->now);
	got = serial_send_take(d->s, d->out, DRIVE_MAX, d->now);
	n->on_its_way += got;
	next = serial_send_deadline(d->s);
	if (got > 0 && next > d->now + SOON)
		next = d->now + SOON;
	if (next == SERIAL_SEND_NEVER)
		return;
	d->now = next > d->now ? next : d->now + 1;
	let_pass(n, d->now);
}

/*
 * The time of such characters was taken for over when a count showed that they had gone, although
 * they had come to the server only then: more than the reserve lay there, and done was said while
 * the last of them had not left.
 */
static void a_network_that_stands_still(void **state)
{
	static uint8_t program[1500];
	struct network n = {.seed = 2217};

	memset(program, 'X', sizeof(program));
	for (unsigned round = 0; round < 300; round++) {
		struct line_serial settings = drive_settings();
		struct drive d = {0};
		uint64_t counted = 0;
		double slack;

		settings.reserve = 16 + round % 64;
		settings.baud = 1200u << round % 4;
		settings.total_ms = 600000;
		n = (struct network){
		    .seed = n.seed, .stood = n.stood, .rate = settings.baud / 11000.0};
		/* What stood for less than a caller can see. */
		slack = 6 * n.rate;
		drive_begin(&d, &settings, program, sizeof(program));
		while (drive_outcome(&d).state != SERIAL_SEND_DONE) {
			assert_int_not_equal(drive_outcome(&d).state, SERIAL_SEND_FAILED);
			turn_of(&d, &n, &counted);
			assert_true(n.pile + (double)n.on_its_way <= settings.reserve + slack);
		}
		assert_int_equal(n.on_its_way, 0);
		assert_true(n.pile <= slack);
		drive_end(&d);
	}
	assert_true(n.stood > 300);
}

/* The line's clock may be half a percent slow: the pile must not grow with the program. */
static void slow_clock_of_the_line(void **state)
{
	static uint8_t program[20000];
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	double pile = 0;

	memset(program, 'X', sizeof(program));
	drive_begin(&d, &settings, program, sizeof(program));
	for (; drive_outcome(&d).state == SERIAL_SEND_SENDING; d.now++) {
		pile -= 9600 / 11000.0 / 1.005;
		pile = pile < 0 ? 0 : pile;
		pile += (double)serial_send_take(d.s, d.out, DRIVE_MAX, d.now);
		assert_true(pile <= settings.reserve + 1);
	}
	drive_end(&d);
}

/* A caller who is up to 5 ms late at each wake still keeps 99 % of the line busy, without waking
 * for each character. */
static void line_is_used(void **state)
{
	static uint8_t program[50000];
	static const uint32_t rates[] = {300, 1200, 4800, 9600, 19200, 38400};
	uint32_t seed = 99;

	memset(program, 'X', sizeof(program));
	for (size_t i = 0; i < sizeof(rates) / sizeof(rates[0]); i++) {
		struct line_serial settings = drive_settings();
		struct drive d = {0};
		size_t size = rates[i] < 4800 ? 2000 : sizeof(program);
		double nominal = (double)size * 11000 / rates[i];

		settings.baud = rates[i];
		settings.reserve = 16 > rates[i] / 640 ? 16 : rates[i] / 640;
		drive_begin(&d, &settings, program, size);
		while (drive_outcome(&d).state != SERIAL_SEND_DONE) {
			d.n += serial_send_take(d.s, d.out, DRIVE_MAX, d.now);
			serial_send_tick(d.s, d.now);
			if (serial_send_deadline(d.s) != SERIAL_SEND_NEVER)
				d.now = serial_send_deadline(d.s) + chance(&seed) % 6;
			d.wakes++;
		}
		assert_int_equal(d.n, size);
		if (nominal / (double)d.now < 0.99)
			fail_msg("%u baud: only %.4f of the line used", rates[i],
			    nominal / (double)d.now);
		assert_true(d.wakes < size / 4);
		drive_end(&d);
	}
}

/* A device server behind a network, that acknowledges when all it was sent is in its FIFO of 16. */
struct server {
	double pile, rate;            /* characters below the sender; characters a millisecond */
	uint64_t delay;               /* of the network, ms; each way */
	uint64_t now, unacknowledged; /* the latter as the sender sees it */
	struct {
		uint64_t at;
		size_t n;
	} flies[64]; /* on their way there, oldest first */
	size_t flying, in_air;
};

static void drain(struct server *s, uint64_t now)
{
	s->pile -= (double)(now - s->now) * s->rate;
	s->pile = s->pile < 0 ? 0 : s->pile;
	s->now = now;
}

static void server_until(struct server *s, uint64_t now)
{
	while (s->flying > 0 && s->flies[0].at <= now) {
		drain(s, s->flies[0].at);
		s->pile += (double)s->flies[0].n;
		s->in_air -= s->flies[0].n;
		memmove(s->flies, s->flies + 1, --s->flying * sizeof(s->flies[0]));
	}
	drain(s, now);
	if (s->pile <= 16 && !s->flying)
		s->unacknowledged = 0;
}

static void server_gets(struct server *s, size_t n)
{
	assert_true(s->flying < sizeof(s->flies) / sizeof(s->flies[0]));
	s->flies[s->flying].at = s->now + s->delay;
	s->flies[s->flying++].n = n;
	s->in_air += n;
	s->unacknowledged += n;
}

typedef void count_fn(struct serial_send *s, uint64_t now, uint64_t n);

/*
 * How much of the line is used by a caller who is up to a millisecond late. The reserve is never
 * exceeded.
 */
static double use_over_network(
    uint32_t baud, uint32_t reserve, uint64_t delay, size_t size, count_fn *count)
{
	static uint8_t program[60000];
	struct line_serial settings = drive_settings();
	struct server server = {.rate = baud / 11000.0, .delay = delay};
	struct drive d = {0};
	uint32_t seed = baud;

	memset(program, 'X', sizeof(program));
	settings.baud = baud;
	settings.reserve = reserve;
	settings.total_ms = 1000000;
	drive_begin(&d, &settings, program, size);
	while (drive_outcome(&d).state != SERIAL_SEND_DONE) {
		size_t n;

		server_until(&server, d.now);
		count(d.s, d.now, server.unacknowledged);
		n = serial_send_take(d.s, d.out, DRIVE_MAX, d.now);
		if (n > 0)
			server_gets(&server, n);
		if (server.pile + (double)server.in_air > reserve + 1e-6)
			fail_msg("%.1f characters are below us, the reserve is %u",
			    server.pile + (double)server.in_air, reserve);
		serial_send_tick(d.s, d.now);
		if (serial_send_deadline(d.s) != SERIAL_SEND_NEVER)
			d.now = serial_send_deadline(d.s) + chance(&seed) % 2;
	}
	drive_end(&d);
	return (double)size / server.rate / (double)d.now;
}

/*
 * Each acknowledgement that came later than the time of its characters was taken for characters
 * that still lay below, and the line waited for them: at 115,200 baud 4 % of it was idle.
 */
static void late_acknowledgements(void **state)
{
	double before = use_over_network(115200, 64, 0, 60000, serial_send_queued);
	double used = use_over_network(115200, 64, 0, 60000, serial_send_unacknowledged);

	if (used < 0.99 || used < before)
		fail_msg("%.4f of the line used, %.4f by the plain count", used, before);
}

/* What the network itself holds for a moment is below us too: a quarter of the reserve is for it.
 */
static void delay_of_the_network(void **state)
{
	static const uint32_t rates[] = {9600, 38400, 115200, 921600};
	static const uint32_t reserves[] = {16, 64, 256, 1024};

	for (size_t i = 0; i < 4; i++) {
		for (size_t k = 0; k < 4; k++) {
			uint64_t most = reserves[k] / 4 * 11000 / rates[i];

			for (uint64_t delay = 0; delay <= most; delay += 1 + most / 8)
				use_over_network(
				    rates[i], reserves[k], delay, 6000, serial_send_unacknowledged);
		}
	}
}

static void progress_and_time_left(void **state)
{
	static uint8_t program[9600];
	struct line_serial settings = drive_settings();
	struct drive d = {0};
	struct serial_send_progress p;

	memset(program, '\n', sizeof(program));
	drive_begin(&d, &settings, program, sizeof(program));
	serial_send_progress(d.s, d.now, &p);
	assert_int_equal(p.total, 9600);
	assert_int_equal(p.blocks, 9600);
	assert_int_equal(p.left_ms, 11000);
	drive_until(&d, 5500);
	serial_send_progress(d.s, d.now, &p);
	assert_true(p.bytes > 4700 && p.bytes < 4830);
	assert_int_equal(p.block, p.bytes);
	assert_true(p.left_ms > 5450 && p.left_ms < 5650);
	/* Held as long again: the pace so far is half the line's, and so is what can be expected.
	 */
	drive_hear(&d, 0x13);
	drive_until(&d, 11000);
	serial_send_progress(d.s, d.now, &p);
	assert_int_equal(p.state, SERIAL_SEND_HELD);
	assert_true(p.left_ms > 10800 && p.left_ms < 11300);
	drive_hear(&d, 0x11);
	drive_until(&d, SERIAL_SEND_NEVER);
	serial_send_progress(d.s, d.now, &p);
	assert_int_equal(p.left_ms, 0);
	assert_int_equal(p.bytes, 9600);
	drive_end(&d);
}

/* What was put on the line is always a beginning of the whole, however it was taken. */
static void taken_in_pieces(void **state)
{
	struct line_serial settings = drive_settings();
	struct drive whole = {0};
	uint32_t seed = 7;

	settings.leader = 10;
	settings.trailer = 10;
	settings.dc2_dc4 = true;
	settings.code = LINE_CODE_ISO;
	settings.eob = LINE_EOB_LFCRCR;
	drive_begin(&whole, &settings, PROGRAM, strlen(PROGRAM));
	drive_until(&whole, SERIAL_SEND_NEVER);
	for (int round = 0; round < 200; round++) {
		struct drive d = {0};

		drive_begin(&d, &settings, PROGRAM, strlen(PROGRAM));
		while (drive_outcome(&d).state != SERIAL_SEND_DONE) {
			d.n += serial_send_take(d.s, d.out + d.n, chance(&seed) % 5, d.now);
			serial_send_tick(d.s, d.now);
			d.now += chance(&seed) % 4;
		}
		assert_int_equal(d.n, whole.n);
		assert_memory_equal(d.out, whole.out, d.n);
		drive_end(&d);
	}
	drive_end(&whole);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(stuck_below),
	    cmocka_unit_test(slow_below),
	    cmocka_unit_test(counted_below),
	    cmocka_unit_test(pause_between_blocks),
	    cmocka_unit_test(never_more_than_the_reserve),
	    cmocka_unit_test(a_network_that_stands_still),
	    cmocka_unit_test(slow_clock_of_the_line),
	    cmocka_unit_test(line_is_used),
	    cmocka_unit_test(late_acknowledgements),
	    cmocka_unit_test(delay_of_the_network),
	    cmocka_unit_test(progress_and_time_left),
	    cmocka_unit_test(taken_in_pieces),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
