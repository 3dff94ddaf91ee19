/*
 * Goal: the bench control behaves on a real socket as a control's reader and punch do when all is
 * well. The sender here is a bare one of this test's own.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>
#include "load_case.h"

static double since(const struct timespec *from)
{
	struct timespec to;

	clock_gettime(CLOCK_MONOTONIC, &to);
	return (double)(to.tv_sec - from->tv_sec) + (double)(to.tv_nsec - from->tv_nsec) / 1e9;
}

/* Everything is written at once: the line's pace alone decides how long it takes. */
static void test_load_at_the_lines_pace(void **state)
{
	struct bed b = {0};
	char store[300], copy[6000];
	const char *options[] = {"--line", "0", "--faster", FASTER, "--store", store, NULL};
	struct timespec from;
	double took;
	int fd;

	make_text(3000);
	bed_folder(&b);
	snprintf(store, sizeof(store), "%s/store", b.dir);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	assert_int_equal(bed_byte(fd, 5000), 0x11);
	clock_gettime(CLOCK_MONOTONIC, &from);
	assert_true(bed_send(fd, "\0\0\0\0\0\0\0\0", 8, 0, false));
	assert_true(bed_send(fd, iso, text_len, 0, false));
	bed_expect(fd, 0x93);
	took = since(&from);
	assert_true(took > (double)text_len / CPS * 0.95);

	assert_true(bed_ask(&b, "wait loaded upper"));
	assert_true(bed_ask(&b, "show upper O4417"));
	assert_string_equal(b.answer, text);
	bed_file(&b, "store/upper/O4417.nc", copy, sizeof(copy));
	assert_string_equal(copy, text);
	assert_int_equal(bed_figure(&b, "upper.overrun"), 0);
	assert_int_equal(bed_figure(&b, "upper.parity"), 0);
	assert_int_equal(bed_figure(&b, "upper.line-rate"), 872);
	assert_in_range(bed_figure(&b, "upper.rate"), 829, 916);
	close(fd);
	end(&b);
}

/* Buffer 500, DC3 at 250 free, 400 characters a second taken: the sender that honours DC3 loses
 * nothing. 250 characters are 70 ms, so that a busy machine does not count. */
static void test_dc3_at_the_reserve(void **state)
{
	struct bed b = {0};
	const char *options[] = {"--line", "0", "--faster", "4", "--buffer", "500", "--reserve",
	    "250", "--drain", "400", "--resume", "50", NULL};
	int fd;

	make_text(3000);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "read lower"));
	fd = bed_connect(&b, 0);
	assert_int_equal(bed_byte(fd, 5000), 0x11);
	assert_true(bed_send(fd, iso, text_len, 872.73 * 4, true));
	assert_true(bed_ask(&b, "wait loaded lower"));
	assert_true(bed_ask(&b, "show lower"));
	assert_string_equal(b.answer, text);
	assert_true(bed_figure(&b, "lower.dc3-sent") >= 3);
	assert_int_equal(bed_figure(&b, "lower.overrun"), 0);
	assert_true(bed_figure(&b, "lower.after-dc3-most") <= 250);
	close(fd);
	end(&b);
}

/* The stream of tape code that is computed from the published table; see test_parts.c. */
static const uint8_t job_iso[] = {0xa5, 0x0a, 0xcf, 0xb1, 0xb2, 0x33, 0xb4, 0x28, 0xca, 0xcf, 0x42,
    0xa9, 0x0a, 0x4e, 0xb1, 0x30, 0x47, 0x30, 0xd8, 0x35, 0x30, 0x2e, 0x5a, 0xb2, 0x2e, 0x0a, 0x4d,
    0x33, 0x30, 0x0a, 0xa5, 0x0a};

static void test_punch_stream(void **state)
{
	struct bed b = {0};
	struct timespec from;
	int fd, got;
	size_t n = 0;

	start(&b, "--leader", "2000", "--trailer", "10");
	assert_false(bed_ask(&b, "punch upper"));
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, job_iso, sizeof(job_iso), 0, false));
	assert_true(bed_ask(&b, "wait loaded upper"));
	bed_expect(fd, 0x93);
	/* Taken before, so that a test that wakes late measures more, not less. */
	clock_gettime(CLOCK_MONOTONIC, &from);
	assert_true(bed_ask(&b, "punch upper O1234"));
	assert_int_equal(bed_byte(fd, 5000), 0x12);
	while ((got = bed_byte(fd, 5000)) == 0)
		n++;
	assert_int_equal(n, 2000);
	assert_true(since(&from) > 2000 / CPS * 0.95);
	for (size_t i = 0; i < sizeof(job_iso); i++, got = bed_byte(fd, 5000))
		assert_int_equal(got, job_iso[i]);
	for (n = 0; got == 0; n++)
		got = bed_byte(fd, 5000);
	assert_int_equal(n, 10);
	assert_int_equal(got, 0x14);
	assert_true(bed_ask(&b, "wait punched upper"));
	close(fd);
	end(&b);
}

/* A control stops within 10 characters after DC3 (a published figure of a control's reader and
 * punch interface). */
static void test_punch_honours_dc3(void **state)
{
	struct bed b = {0};
	const struct timespec act = {.tv_nsec = 50000000};
	const uint8_t dc3[] = {0x13, 0x93};
	int fd;

	make_text(1000);
	bed_start(&b, (const char *[]){"--line", "0", "--pause", "0", "--leader", "1000", NULL});
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, job_iso, sizeof(job_iso), 0, false));
	assert_true(bed_ask(&b, "wait loaded upper"));
	assert_true(bed_ask(&b, "punch upper"));
	bed_expect(fd, 0x12);
	for (int i = 0; i < 2; i++) {
		int after = 0;

		for (int k = 0; k < 20; k++)
			assert_int_equal(bed_byte(fd, 5000), 0);
		assert_true(bed_send(fd, &dc3[i], 1, 0, false));
		nanosleep(&act, NULL);
		while (bed_byte(fd, 50) >= 0)
			after++;
		assert_true(
		    after <= 10 + 44); /* 44: what 9600 baud brings in the 50 ms that we slept */
		assert_int_equal(bed_byte(fd, 100), -2);
		assert_true(bed_send(fd, "\x11", 1, 0, false));
	}
	bed_expect(fd, 0xa5);
	close(fd);
	end(&b);
}

/* Two lines, each keeps itself ready; the operator's edit is in what is punched back. */
static void test_auto_and_edit(void **state)
{
	struct bed b = {0};
	char got[8000];
	size_t n = 0;
	int fd[2], byte;

	make_text(800);
	bed_start(&b, (const char *[]){"--line-upper", "0", "--line-lower", "0", "--faster", FASTER,
	                  "--code", "ascii", "--eob", "crlf", NULL});
	memcpy(iso, text, text_len);
	assert_true(b.ports[0] && b.ports[1] && b.ports[0] != b.ports[1]);
	assert_true(bed_ask(&b, "auto read upper"));
	assert_true(bed_ask(&b, "auto read lower"));
	fd[0] = bed_connect(&b, 0);
	fd[1] = bed_connect(&b, 1);
	load(&b, fd[0], "upper");
	load(&b, fd[0], "upper");
	close(fd[0]);
	fd[0] = bed_connect(&b, 0);
	load(&b, fd[0], "upper");
	assert_true(bed_ask(&b, "auto punch lower"));
	load(&b, fd[1], "lower");
	bed_expect(fd[1], 0x12);
	bed_expect(fd[1], 0x14);
	bed_expect(fd[1], 0x11); /* ready again after the punch */

	assert_true(bed_ask(&b, "auto read lower off"));
	assert_true(bed_ask(&b, "edit lower 'Z-10.5 F0.12' 'Z-10.5 F0.15'"));
	assert_false(bed_ask(&b, "edit lower F0.99 F1."));
	assert_true(bed_ask(&b, "reset lower"));
	assert_true(bed_ask(&b, "punch lower"));
	bed_expect(fd[1], 0x12);
	while ((byte = bed_byte(fd[1], 5000)) != 0x14) {
		assert_true(byte >= 0 && n + 1 < sizeof(got));
		if (byte)
			got[n++] = (char)byte;
	}
	got[n] = '\0';
	assert_non_null(strstr(got, "\r\nN10 G1 X10.010 Z-10.5 F0.15\r\nN20 "));
	assert_true(bed_ask(&b, "list"));
	assert_non_null(strstr(b.answer, "upper O4417"));
	close(fd[0]);
	close(fd[1]);
	end(&b);
}

/* One line for both channels: after the upper one's load it is the lower one's turn. */
static void test_one_line_takes_turns(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "auto read upper"));
	assert_true(bed_ask(&b, "auto read lower"));
	for (int i = 0; i < 2; i++) {
		fd = bed_connect(&b, 0);
		load(&b, fd, "upper");
		close(fd);
		fd = bed_connect(&b, 0);
		load(&b, fd, "lower");
		close(fd);
	}
	end(&b);
}

static void test_battery(void **state)
{
	struct bed b = {0};
	char store[300];
	const char *options[] = {"--line", "0", "--faster", FASTER, "--battery", store, NULL};
	int fd;

	make_text(800);
	bed_folder(&b);
	snprintf(store, sizeof(store), "%s/store", b.dir);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "read lower"));
	fd = bed_connect(&b, 0);
	load(&b, fd, "lower");
	close(fd);
	bed_stop(&b);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "show lower 4417"));
	assert_string_equal(b.answer, text);
	assert_true(bed_ask(&b, "forget"));
	assert_false(bed_ask(&b, "show lower"));
	bed_stop(&b);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "list"));
	assert_string_equal(b.answer, "0 programs\n");
	end(&b);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_load_at_the_lines_pace),
	    cmocka_unit_test(test_dc3_at_the_reserve),
	    cmocka_unit_test(test_punch_stream),
	    cmocka_unit_test(test_punch_honours_dc3),
	    cmocka_unit_test(test_auto_and_edit),
	    cmocka_unit_test(test_one_line_takes_turns),
	    cmocka_unit_test(test_battery),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
