/* Goal: when memory runs out at any allocation, the wire says so and keeps nothing. */
#include "wire_test.h"

#include <stdbool.h>
#include <stdlib.h>
#include "canonical.h"
#include "comport.h"
#include "serial_receive.h"
#include "serial_send.h"

void *__real_malloc(size_t n);
void *__real_calloc(size_t count, size_t n);
void *__real_realloc(void *p, size_t n);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t count, size_t n);
void *__wrap_realloc(void *p, size_t n);

static long countdown = -1; /* allocations until the one that fails; -1: none fails */

static bool fails(void)
{
	return countdown >= 0 && countdown-- == 0;
}

void *__wrap_malloc(size_t n)
{
	return fails() ? NULL : __real_malloc(n);
}

void *__wrap_calloc(size_t count, size_t n)
{
	return fails() ? NULL : __real_calloc(count, n);
}

void *__wrap_realloc(void *p, size_t n)
{
	return fails() ? NULL : __real_realloc(p, n);
}

static void canonical_without_memory(void **state)
{
	struct canonical c;
	int result;

	countdown = 0;
	result = canonical_make(&c, BYTES("%\nM30\n%\n"));
	countdown = -1;
	assert_int_equal(result, -1);
	assert_null(c.bytes);
	assert_int_equal(c.size, 0);
}

static void comport_without_memory(void **state)
{
	const struct comport_settings settings = {.baud = 9600};
	struct comport *c;

	countdown = 0;
	c = comport_new(&settings, 0);
	countdown = -1;
	assert_null(c);
	comport_free(c);
}

static void send_without_memory(void **state)
{
	const struct line_serial settings = {.baud = 9600, .reserve = 16, .stall_ms = 1000};
	struct serial_text_refusal refusal;
	struct serial_send *s;

	countdown = 0;
	s = serial_send_new(&settings, BYTES("M30\n"), 0, &refusal);
	countdown = -1;
	assert_null(s);
	assert_int_equal(refusal.fault, SERIAL_TEXT_MEMORY);
}

/* The receiver allocates itself, its first and second piece of capture, the stripped copy and the
 * text. */
static void receive_without_memory(void **state)
{
	const struct line_serial settings = {.read_back_ms = 1000, .silence_ms = 1000};
	static const uint8_t filler[5000];
	bool done = false;
	long failing = 0;

	for (; !done; failing++) {
		struct serial_receive_outcome o;
		struct serial_receive *r;

		countdown = failing;
		r = serial_receive_new(&settings, 1 << 20, 0);
		if (!r) {
			assert_int_equal(failing, 0);
			continue;
		}
		serial_receive_feed(r, 0, filler, sizeof(filler));
		serial_receive_feed(r, 0, BYTES("%\nM30\n%\n"));
		serial_receive_tick(r, 5000);
		countdown = -1;
		serial_receive_outcome(r, &o);
		done = o.state == SERIAL_RECEIVE_DONE;
		if (!done) {
			assert_int_equal(o.state, SERIAL_RECEIVE_FAILED);
			assert_int_equal(o.reason, SERIAL_RECEIVE_MEMORY);
			assert_int_equal(o.text_size, 0);
			assert_false(o.usable);
		}
		serial_receive_free(r);
	}
	assert_int_equal(failing, 6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(canonical_without_memory),
	    cmocka_unit_test(comport_without_memory),
	    cmocka_unit_test(send_without_memory),
	    cmocka_unit_test(receive_without_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
