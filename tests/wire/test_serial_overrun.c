/*
 * Goal: a control with a small buffer is never overrun, however deep the queues are between us and
 * it.
 *
 * The trade's case: DC3 is obeyed at the top, but what lies in the adapter and the driver leaves
 * all the same. The control here has a buffer of 100, says DC3 at 40 free places and DC1 when 80
 * are free, reads 200 characters per second; the line brings 872 (9600 7E2). Between sender and
 * line lies a queue of 16, 256 or 4096 that nobody can call back.
 */
#include "drive.h"

#include <stdio.h>
#include <string.h>

enum { BUFFER = 100, STOP_FREE = 40, GO_FREE = 80, READ_CPS = 200, SIZE = 5000, FIFO_MAX = 4096 };

struct bench {
	uint8_t fifo[FIFO_MAX];
	size_t fifo_at, fifo_n;
	double line, read; /* parts of a character that line and reader are due */
	size_t buffered;
	bool stopped;
	uint8_t got[2 * SIZE];
	size_t got_n;
	size_t lost;
	size_t most_below; /* most characters that lay in the queue */
};

/* One character leaves the queue and reaches the control. */
static void arrive(struct bench *b, struct drive *d)
{
	uint8_t c = b->fifo[b->fifo_at];

	b->fifo_at = (b->fifo_at + 1) % FIFO_MAX;
	b->fifo_n--;
	if (b->buffered == BUFFER) {
		b->lost++;
		return;
	}
	b->buffered++;
	b->got[b->got_n++] = c;
	if (BUFFER - b->buffered <= STOP_FREE && !b->stopped) {
		b->stopped = true;
		drive_hear(d, 0x93);
	}
}

/* One millisecond of line and control. */
static void one_ms(struct bench *b, struct drive *d)
{
	b->line += 9600 / 11.0 / 1000;
	while (b->line >= 1) {
		b->line -= 1;
		if (b->fifo_n > 0)
			arrive(b, d);
	}
	b->read += READ_CPS / 1000.0;
	while (b->read >= 1) {
		b->read -= 1;
		b->buffered -= b->buffered > 0;
	}
	if (b->stopped && BUFFER - b->buffered >= GO_FREE) {
		b->stopped = false;
		drive_hear(d, 0x11);
	}
}

static void make_program(uint8_t *program)
{
	size_t n = 0;

	for (unsigned block = 10; n < SIZE - 40; block += 10)
		n += (size_t)sprintf((char *)program + n, "N%u G1 X%u.%u Z-%u.\n", block,
		    block % 97, block % 7, block % 53);
	memset(program + n, ' ', SIZE - n);
	memcpy(program + SIZE - 7, "\nM30\n%\n", 7);
}

static void play(struct bench *b, struct drive *d, size_t fifo, uint32_t reserve)
{
	static uint8_t program[SIZE + 64];
	struct line_serial settings = drive_settings();

	make_program(program);
	*b = (struct bench){0};
	d->now = 0;
	settings.reserve = reserve;
	settings.wait_dc1 = true;
	drive_begin(d, &settings, program, SIZE);
	drive_hear(d, 0x11);
	for (; d->now < 120000 && drive_outcome(d).state != SERIAL_SEND_DONE; d->now++) {
		uint8_t out[FIFO_MAX];
		size_t n = serial_send_take(d->s, out, fifo - b->fifo_n, d->now);

		for (size_t i = 0; i < n; i++)
			b->fifo[(b->fifo_at + b->fifo_n++) % FIFO_MAX] = out[i];
		if (b->fifo_n > b->most_below)
			b->most_below = b->fifo_n;
		serial_send_tick(d->s, d->now);
		one_ms(b, d);
	}
	assert_int_equal(drive_outcome(d).state, SERIAL_SEND_DONE);
	assert_int_equal(b->fifo_n, 0);
	if (b->lost == 0) {
		assert_int_equal(b->got_n, SIZE);
		assert_memory_equal(b->got, program, SIZE);
	}
}

static const size_t fifos[] = {16, 256, 4096};

/* Limited to 16 below us, the program arrives byte for byte through every queue. */
static void limited(void **state)
{
	for (size_t i = 0; i < 3; i++) {
		struct bench b;
		struct drive d = {0};

		play(&b, &d, fifos[i], 16);
		assert_int_equal(b.lost, 0);
		assert_int_equal(b.got_n, SIZE);
		assert_true(b.most_below <= 16);
		assert_true(drive_outcome(&d).holds > 10);
		assert_true(drive_outcome(&d).after_dc3 <= 16);
		drive_end(&d);
	}
}

/* Without the limit the deep queues overrun the control: the case is real, and the test would see
 * it. */
static void unlimited(void **state)
{
	for (size_t i = 0; i < 3; i++) {
		struct bench b;
		struct drive d = {0};

		play(&b, &d, fifos[i], FIFO_MAX);
		if (fifos[i] == 16)
			assert_int_equal(b.lost, 0);
		else
			assert_true(b.lost > 0);
		drive_end(&d);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(limited),
	    cmocka_unit_test(unlimited),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
