/* Goal: line times are those of the published table, and the count of characters below us never
 * runs ahead of the line. */
#include "wire_test.h"

#include "serial_pace.h"

/* Source: EIA-232 asynchronous characters, 1 start + data + parity + stop bits. */
static void bits_of_a_character(void **state)
{
	assert_int_equal(line_bits(LINE_7E1), 10);
	assert_int_equal(line_bits(LINE_7O1), 10);
	assert_int_equal(line_bits(LINE_8N1), 10);
	assert_int_equal(line_bits(LINE_7E2), 11);
	assert_int_equal(line_bits(LINE_8N2), 11);
	assert_int_equal(line_bits(LINE_8E1), 11);
}

static const struct {
	uint32_t baud;
	double cps10, cps11; /* characters per second with 10 and 11 bits */
	double ms11;         /* one character of 11 bits, ms */
	double s10k;         /* 10 kB at 11 bits, s */
} table[] = {
    {300, 30.00, 27.27, 36.667, 366.7},
    {1200, 120.00, 109.09, 9.167, 91.7},
    {2400, 240.00, 218.18, 4.583, 45.8},
    {4800, 480.00, 436.36, 2.292, 22.9},
    {9600, 960.00, 872.73, 1.146, 11.5},
    {19200, 1920.00, 1745.45, 0.573, 5.7},
    {38400, 3840.00, 3490.91, 0.286, 2.9},
};

enum { RATES = sizeof(table) / sizeof(table[0]) };

static void close_to(double value, double expected, double within)
{
	if (value < expected - within || value > expected + within)
		fail_msg("%f is not %f", value, expected);
}

/* The table's figures are rounded to the digits shown. */
static void line_times(void **state)
{
	for (size_t i = 0; i < RATES; i++) {
		uint32_t baud = table[i].baud;

		close_to(
		    serial_pace_line_ms(baud, LINE_7E2, 100000000) / 1e8, table[i].ms11, 0.0006);
		close_to(serial_pace_line_ms(baud, LINE_7E2, 10000) / 1e3, table[i].s10k, 0.051);
		close_to(
		    1e11 / serial_pace_line_ms(baud, LINE_7E2, 100000000), table[i].cps11, 0.006);
		close_to(
		    1e11 / serial_pace_line_ms(baud, LINE_8N1, 100000000), table[i].cps10, 0.006);
	}
}

/* What is handed over at once is gone when the line had its time, with the slowness that covers
 * unequal clocks. */
static void drains_at_the_rate(void **state)
{
	for (size_t i = 0; i < RATES; i++) {
		struct serial_pace p;
		uint64_t nominal = serial_pace_line_ms(table[i].baud, LINE_7E2, 10000);
		uint64_t when;

		serial_pace_init(&p, table[i].baud, LINE_7E2);
		serial_pace_add(&p, 500, 10000);
		when = serial_pace_when(&p, 0) - 500;
		assert_true(when >= nominal);
		assert_true(when <= nominal + nominal / 100);
		assert_int_equal(serial_pace_below(&p, 500), 10000);
		assert_true(serial_pace_below(&p, 500 + nominal / 2) >= 5000);
		assert_true(serial_pace_below(&p, 500 + nominal / 2) <= 5050);
		assert_int_equal(serial_pace_below(&p, 500 + when), 0);
		assert_true(serial_pace_below(&p, 500 + when - 1) > 0);
	}
}

/* At the time that 'when' names at most n are below, and a millisecond earlier more are. */
static void when_agrees_with_below(void **state)
{
	uint32_t seed = 9600;

	for (int round = 0; round < 20000; round++) {
		uint32_t baud = 50 + chance(&seed) % 115200;
		uint64_t at = chance(&seed), n = 1 + chance(&seed) % 5000, most = chance(&seed) % n,
		         when;
		struct serial_pace p;

		serial_pace_init(&p, baud, chance(&seed) & 1 ? LINE_7E1 : LINE_7E2);
		serial_pace_add(&p, at, n);
		when = serial_pace_when(&p, most);
		assert_true(serial_pace_below(&p, when) <= most);
		if (when > at)
			assert_true(serial_pace_below(&p, when - 1) > most);
	}
}

static void a_count_from_below(void **state)
{
	struct serial_pace p;

	serial_pace_init(&p, 9600, LINE_7E2);
	serial_pace_at_least(&p, 0, 0);
	assert_int_equal(serial_pace_below(&p, 0), 0);
	serial_pace_add(&p, 0, 4);
	serial_pace_at_least(&p, 0, 2);
	assert_int_equal(serial_pace_below(&p, 0), 4);
	serial_pace_at_least(&p, 0, 100);
	assert_int_equal(serial_pace_below(&p, 0), 100);
}

static void absurd_numbers(void **state)
{
	struct serial_pace p;

	serial_pace_init(&p, SERIAL_PACE_BAUD_MAX, LINE_7E2);
	serial_pace_add(&p, UINT64_MAX, UINT64_MAX);
	assert_true(serial_pace_below(&p, UINT64_MAX) > 0);
	serial_pace_at_least(&p, UINT64_MAX, UINT64_MAX);
	assert_true(serial_pace_when(&p, 0) >= SERIAL_PACE_MS_MAX);
	assert_true(serial_pace_when(&p, UINT64_MAX) <= SERIAL_PACE_MS_MAX);
}

/*
 * Free places needed after DC3 at 9600 7E2 with 20 ms reaction: 17.5 + FIFO + 2, rounded up, with a
 * 16-byte FIFO, a 256-byte adapter and 4096 queued in the driver. Common practice.
 */
static void room_needed(void **state)
{
	assert_int_equal(serial_pace_room_needed(9600, LINE_7E2, 20, 16), 36);
	assert_int_equal(serial_pace_room_needed(9600, LINE_7E2, 20, 256), 276);
	assert_int_equal(serial_pace_room_needed(9600, LINE_7E2, 20, 4096), 4116);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(bits_of_a_character),
	    cmocka_unit_test(line_times),
	    cmocka_unit_test(drains_at_the_rate),
	    cmocka_unit_test(when_agrees_with_below),
	    cmocka_unit_test(a_count_from_below),
	    cmocka_unit_test(absurd_numbers),
	    cmocka_unit_test(room_needed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
