/* Goal: when memory runs out at any allocation, the wire says so and keeps nothing. */
#include "wire_test.h"

#include <stdbool.h>
#include <stdlib.h>
#include "canonical.h"
#include "comport.h"
#include "serial_receive.h"
#include "serial_send.h"
#include "several.h"

void *__real_malloc(size_t n);
void *__real_calloc(size_t count, size_t n);
void *__real_realloc(void *p, size_t n);
void *__real_reallocarray(void *p, size_t count, size_t n);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t count, size_t n);
void *__wrap_realloc(void *p, size_t n);
void *__wrap_reallocarray(void *p, size_t count, size_t n);

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

void *__wrap_reallocarray(void *p, size_t count, size_t n)
{
	return fails() ? NULL : __real_reallocarray(p, count, n);
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

/* Nothing is left of a text that was half taken apart, or of programs half put together. */
static void several_without_memory(void **state)
{
	static const uint8_t text[] = "%\nO1\nM30\nO2\nM99\n%\n";
	struct several s = {0};
	struct several_match m;
	int failing = 0, result = -1;

	countdown = 0;
	assert_int_equal(several_read(&s, text, sizeof(text) - 1), -1);
	assert_int_equal(s.parts, 0);
	assert_null(s.part);
	countdown = -1;
	assert_int_equal(several_read(&s, text, sizeof(text) - 1), 0);
	for (; result; failing++) {
		countdown = failing;
		result = several_match(&m, &s, &s);
		countdown = -1;
		assert_int_equal(m.used == NULL, result < 0);
		assert_int_equal(m.text == NULL, result < 0);
		several_match_free(&m);
	}
	assert_int_equal(failing, 4);
	several_free(&s);
}

/* The receiver allocates itself, its first and second piece of capture, the stripped copy, the
 * text and the list of its programs. */
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
	assert_int_equal(failing, 7);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(canonical_without_memory),
	    cmocka_unit_test(comport_without_memory),
	    cmocka_unit_test(send_without_memory),
	    cmocka_unit_test(several_without_memory),
	    cmocka_unit_test(receive_without_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
