/* Goal: wrong characters are found where they stand, however the stream is cut. Source of the
 * marks: POSIX.1, termios.h, INPCK and PARMRK. */
#include "wire_test.h"

#include <stdbool.h>
#include <string.h>
#include "serial_mark.h"

static void becomes(const void *stream, size_t n, const void *characters, size_t want,
    uint32_t wrong, uint32_t breaks)
{
	struct serial_mark m = {0};
	uint8_t b[64];

	memcpy(b, stream, n);
	assert_int_equal(serial_mark_take(&m, b, n), want);
	assert_memory_equal(b, characters, want);
	assert_int_equal(m.wrong, wrong);
	assert_int_equal(m.breaks, breaks);
}

static void each_mark(void **state)
{
	becomes(BYTES("N10"), BYTES("N10"), 0, 0);
	becomes(BYTES("\xFF\xFF"), BYTES("\xFF"), 0, 0);
	becomes(BYTES("N\xFF\0"
	              "10"),
	    BYTES("N10"), 1, 0);
	becomes(BYTES("A\xFF\0\0B"), BYTES("A\0B"), 0, 1);
	becomes(BYTES("\xFF\0\x13\xFF\0\x91"), BYTES("\x13\x91"), 2, 0);
	becomes(BYTES("\xFF\xFF\0\xFF\0\xFF\xFF\xFF"), BYTES("\xFF\0\xFF\xFF"), 1, 0);
}

/* 100,000 streams, byte by byte and at once; and each comes from the characters that it was made
 * of. */
static void however_it_is_cut(void **state)
{
	uint32_t seed = 1003;

	for (int round = 0; round < 100000; round++) {
		struct serial_mark a = {0}, b = {0};
		uint8_t stream[128], single[128], whole[128], want[40];
		size_t n = 0, got = 0, k = chance(&seed) % sizeof(want);
		uint32_t wrong = 0, breaks = 0;

		for (size_t i = 0; i < k; i++) {
			uint8_t c = chance(&seed) % 4 ? (uint8_t)chance(&seed) : 0xFF;
			bool bad = chance(&seed) % 3 == 0;

			want[i] = c;
			if (bad || c == 0xFF)
				stream[n++] = 0xFF;
			if (bad)
				stream[n++] = 0;
			stream[n++] = c;
			wrong += bad && c != 0;
			breaks += bad && c == 0;
		}
		memcpy(whole, stream, n);
		for (size_t i = 0; i < n; i++) {
			single[got] = stream[i];
			got += serial_mark_take(&b, single + got, 1);
		}
		assert_int_equal(serial_mark_take(&a, whole, n), k);
		assert_int_equal(got, k);
		assert_memory_equal(whole, want, k);
		assert_memory_equal(single, want, k);
		assert_memory_equal(&a, &b, sizeof(a));
		assert_int_equal(a.wrong, wrong);
		assert_int_equal(a.breaks, breaks);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_mark),
	    cmocka_unit_test(however_it_is_cut),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
