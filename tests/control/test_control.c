/*
 * Goal: the bench control behaves on a real socket as a control's reader and punch do, in good
 * order and in each trouble that it can be told to have. The sender here is a bare one of this
 * test's own.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <cmocka.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include "bed.h"

/* Times of the line divided by this; 9600 baud 7E2 is 872.73 characters a second (start + 7 +
 * parity + 2 stop). */
#define FASTER "20"
#define CPS (872.73 * 20)

static char text[6000];
static uint8_t iso[6000];
static size_t text_len;

/* A program of about `size` bytes in `text`, and the same with even parity in `iso`. */
static void make_text(size_t size)
{
	text_len = (size_t)snprintf(text, sizeof(text), "%%\nO4417(BUSH)(REV C)\n");
	for (unsigned n = 10; text_len + 40 < size; n += 10)
		text_len += (size_t)snprintf(text + text_len, sizeof(text) - text_len,
		    "N%u G1 X%u.%03u Z-%u.5 F0.12\n", n, n % 70, n, n % 30);
	text_len += (size_t)snprintf(text + text_len, sizeof(text) - text_len, "M30\n%%\n");
	memcpy(iso, text, text_len);
	bed_parity(iso, text_len);
}

/* The options of most tests, with up to four more words. */
static void start(struct bed *b, const char *a1, const char *a2, const char *a3, const char *a4)
{
	const char *options[] = {
	    "--line", "0", "--faster", FASTER, "--pause", "0", a1, a2, a3, a4, NULL};

	make_text(3000);
	bed_start(b, options);
}

static void end(struct bed *b)
{
	bed_stop(b);
	bed_remove(b);
}

static void show_file(const struct bed *b, const char *name, char *to, size_t size)
{
	char path[400];
	FILE *f;
	size_t n;

	snprintf(path, sizeof(path), "%s/%s", b->dir, name);
	f = fopen(path, "r");
	assert_non_null(f);
	n = fread(to, 1, size - 1, f);
	to[n] = '\0';
	fclose(f);
}

/* Everything is written at once: the line's pace alone decides how long it takes. */
static void test_load_at_the_lines_pace(void **state)
{
	struct bed b = {0};
	char store[300], copy[6000];
	const char *options[] = {"--line", "0", "--faster", FASTER, "--store", store, NULL};
	struct timespec from, to;
	double took;
	int fd;

	make_text(3000);
	snprintf(b.dir, sizeof(b.dir), "/tmp/bench-XXXXXX");
	assert_non_null(mkdtemp(b.dir));
	snprintf(store, sizeof(store), "%s/store", b.dir);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	assert_int_equal(bed_byte(fd, 5000), 0x11);
	clock_gettime(CLOCK_MONOTONIC, &from);
	assert_true(bed_send(fd, "\0\0\0\0\0\0\0\0", 8, 0, false));
	assert_true(bed_send(fd, iso, text_len, 0, false));
	bed_expect(fd, 0x93);
	clock_gettime(CLOCK_MONOTONIC, &to);
	took = (double)(to.tv_sec - from.tv_sec) + (double)(to.tv_nsec - from.tv_nsec) / 1e9;
	assert_true(took > (double)text_len / CPS * 0.95);

	assert_true(bed_ask(&b, "wait loaded upper"));
	assert_true(bed_ask(&b, "show upper O4417"));
	assert_string_equal(b.answer, text);
	show_file(&b, "store/upper/O4417.nc", copy, sizeof(copy));
	assert_string_equal(copy, text);
	assert_int_equal(bed_figure(&b, "upper.overrun"), 0);
	assert_int_equal(bed_figure(&b, "upper.parity"), 0);
	assert_int_equal(bed_figure(&b, "upper.line-rate"), 872);
	assert_in_range(bed_figure(&b, "upper.rate"), 829, 916);
	close(fd);
	end(&b);
}

/* Buffer 200, DC3 at 60 free, 200 characters a second taken: the sender that honours DC3 loses
 * nothing. */
static void test_dc3_at_the_reserve(void **state)
{
	struct bed b = {0};
	const char *options[] = {"--line", "0", "--faster", "4", "--buffer", "200", "--reserve",
	    "60", "--drain", "400", "--resume", "50", NULL};
	int fd;

	make_text(1500);
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
	assert_true(bed_figure(&b, "lower.after-dc3-most") <= 60);
	close(fd);
	end(&b);
}

static void test_dc3_ignored_is_an_overrun(void **state)
{
	struct bed b = {0};
	const char *options[] = {"--line", "0", "--faster", FASTER, "--buffer", "100", "--reserve",
	    "40", "--drain", "200", NULL};
	const struct timespec empty = {
	    .tv_nsec = 100000000}; /* 100 characters at 200 * 20 a second: 25 ms */
	long lost;
	int fd;

	make_text(1500);
	bed_start(&b, options);
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	bed_expect(fd, 0x93);
	while (bed_figure(&b, "upper.received-in-load") < (long)text_len &&
	       bed_figure(&b, "upper.loads") == 0)
		nanosleep(&empty, NULL);
	nanosleep(&empty, NULL);
	assert_true(
	    bed_send(fd, "\n\xa5\n", 3, 0, false)); /* should the closing % be among the lost */
	assert_false(bed_ask(&b, "wait loaded upper"));
	assert_non_null(strstr(b.answer, "alarm overrun"));
	lost = bed_figure(&b, "upper.overrun");
	assert_true(lost > 100);
	assert_true(bed_figure(&b, "upper.memory-used") < (long)text_len - 100);
	close(fd);
	end(&b);
}

static void test_dropped_character(void **state)
{
	struct bed b = {0};
	char want[sizeof(text)];
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "drop 100 lower"));
	assert_true(bed_ask(&b, "drop 50 upper"));
	assert_true(bed_ask(&b, "drop 61"));
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	assert_true(bed_ask(&b, "wait loaded upper"));
	strcpy(want, text);
	memmove(want + 60, want + 61, strlen(want) - 60);
	memmove(want + 49, want + 50, strlen(want) - 49);
	assert_true(bed_ask(&b, "show upper"));
	assert_string_equal(b.answer, want);
	assert_int_equal(bed_figure(&b, "upper.dropped"), 2);
	close(fd);
	end(&b);
}

static void test_noise(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "noise 200"));
	assert_true(bed_ask(&b, "auto read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	assert_false(bed_ask(&b, "wait loaded upper"));
	assert_non_null(strstr(b.answer, "alarm parity"));
	assert_int_equal(bed_figure(&b, "upper.parity"), 1);
	assert_true(bed_ask(&b, "list"));
	assert_string_equal(b.answer, "upper O4417 197 stump\n");
	close(fd);
	end(&b);
}

/* Memory for 64 % of the program, then DC3 for ever: the case "memory full". */
static void test_memory_full_holds(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, "--memory", "1920", NULL, NULL);
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	assert_true(bed_ask(&b, "wait held upper"));
	bed_expect(fd, 0x93);
	assert_int_equal(bed_byte(fd, 200), -2);
	assert_false(bed_ask(&b, "go upper"));
	assert_true(bed_ask(&b, "state"));
	assert_non_null(strstr(b.answer, "upper held connected alarm memory-full"));
	assert_true(bed_ask(&b, "reset upper"));
	assert_true(bed_ask(&b, "list"));
	assert_string_equal(b.answer, "upper O4417 1920 stump\n");
	close(fd);
	end(&b);
}

static void test_memory_full_closes(void **state)
{
	struct bed b = {0};
	int fd, got;

	start(&b, "--memory", "1920", "--full", "close");
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	(void)bed_send(fd, iso, text_len, CPS, false);
	do
		got = bed_byte(fd, 5000);
	while (got >= 0);
	assert_int_equal(got, -1);
	assert_false(bed_ask(&b, "wait loaded upper"));
	assert_non_null(strstr(b.answer, "alarm memory-full"));
	assert_true(bed_ask(&b, "list"));
	assert_string_equal(b.answer, "upper O4417 1920 stump\n");
	close(fd);
	end(&b);
}

static void test_hold_and_go(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, "--buffer", "4096", NULL, NULL);
	assert_true(bed_ask(&b, "hold after 500 upper"));
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	assert_true(bed_ask(&b, "wait held upper"));
	bed_expect(fd, 0x93);
	assert_int_equal(bed_byte(fd, 100), -2);
	assert_false(bed_ask(&b, "wait loaded upper 0"));
	assert_true(bed_ask(&b, "go upper"));
	bed_expect(fd, 0x11);
	assert_true(bed_ask(&b, "wait loaded upper"));
	assert_true(bed_ask(&b, "show upper"));
	assert_string_equal(b.answer, text);
	close(fd);
	end(&b);
}

static void test_power_off_leaves_the_stump(void **state)
{
	struct bed b = {0};
	int fd, got;

	start(&b, "--drain", "700", NULL, NULL);
	assert_true(bed_ask(&b, "power off after 500 upper"));
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	(void)bed_send(fd, iso, text_len, CPS, false);
	do
		got = bed_byte(fd, 5000);
	while (got >= 0);
	assert_int_equal(got, -1);
	close(fd);
	assert_false(bed_ask(&b, "wait loaded upper"));
	assert_non_null(strstr(b.answer, "alarm power-off"));
	assert_false(bed_ask(&b, "read upper"));
	assert_true(bed_ask(&b, "power on"));
	assert_true(bed_ask(&b, "show upper"));
	/* What the control had not taken out of its buffer is gone as well. */
	assert_in_range(strlen(b.answer), 300, 501);
	b.answer[strlen(b.answer) - (b.answer[strlen(b.answer) - 1] == '\n')] = '\0';
	assert_memory_equal(b.answer, text, strlen(b.answer));

	/* After that the line is there again under its number. */
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, CPS * 0.7, false));
	assert_true(bed_ask(&b, "wait loaded upper"));
	assert_true(bed_ask(&b, "show upper"));
	assert_string_equal(b.answer, text);
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
	int fd, got;
	size_t n = 0;

	start(&b, "--leader", "20", "--trailer", "10");
	assert_false(bed_ask(&b, "punch upper"));
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, job_iso, sizeof(job_iso), 0, false));
	assert_true(bed_ask(&b, "wait loaded upper"));
	bed_expect(fd, 0x93);
	assert_true(bed_ask(&b, "punch upper O1234"));
	assert_int_equal(bed_byte(fd, 5000), 0x12);
	while ((got = bed_byte(fd, 5000)) == 0)
		n++;
	assert_int_equal(n, 20);
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

static void load(struct bed *b, int fd, const char *channel)
{
	char command[40];

	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	snprintf(command, sizeof(command), "wait loaded %s", channel);
	assert_true(bed_ask(b, command));
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

static void test_connection_goes_and_comes(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "auto read upper"));
	fd = bed_connect(&b, 0); /* goes before anything was sent: nothing has happened */
	bed_expect(fd, 0x11);
	close(fd);
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, 400, 0, false));
	close(fd);
	assert_false(bed_ask(&b, "wait loaded upper"));
	assert_non_null(strstr(b.answer, "alarm line-lost: 400 characters received"));
	assert_true(bed_ask(&b, "list"));
	assert_string_equal(b.answer, "upper O4417 398 stump\n");
	fd = bed_connect(&b, 0);
	load(&b, fd, "upper");
	assert_true(bed_ask(&b, "show upper"));
	assert_string_equal(b.answer, text);
	close(fd);
	end(&b);
}

static void test_battery(void **state)
{
	struct bed b = {0};
	char store[300];
	const char *options[] = {"--line", "0", "--faster", FASTER, "--battery", store, NULL};
	int fd;

	make_text(800);
	snprintf(b.dir, sizeof(b.dir), "/tmp/bench-XXXXXX");
	assert_non_null(mkdtemp(b.dir));
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

static void test_operator_errors(void **state)
{
	static const char *const wrong[] = {"", "nonsense", "read", "read middle", "drop 0",
	    "drop x", "power", "power maybe", "show upper", "delete upper 5", "edit upper a",
	    "wait upper", "wait never upper", "wait loaded upper 0", "edit upper \"open",
	    "a b c d e f g h i j k", "hold upper", "go upper", "memory -1",
	    "noise 99999999999999999999"};
	struct bed b = {0};
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	for (size_t i = 0; i < sizeof(wrong) / sizeof(*wrong); i++) {
		assert_false(bed_ask(&b, wrong[i]));
		assert_non_null(strstr(b.answer, "error"));
	}
	for (int i = 0; i < 40; i++)
		(void)bed_ask(&b, "drop 1000000");
	assert_non_null(strstr(b.answer, "too many"));
	assert_true(bed_ask(&b, "help"));

	/* A line longer than any command: the bench control hangs up, and serves the next one. */
	fd = bed_desk(&b);
	memset(text, 'x', sizeof(text));
	(void)bed_send(fd, text, sizeof(text), 0, false);
	assert_int_equal(bed_byte(fd, 5000), -1);
	close(fd);
	fd = bed_desk(&b); /* gone before the answer */
	assert_true(bed_send(fd, "wait held upper 60\nlist\n", 25, 0, false));
	close(fd);
	assert_true(bed_ask(&b, "state"));
	end(&b);
}

/* Time on the processor of the bench control, seconds. */
static double busy_seconds(const struct bed *b)
{
	char path[64];
	unsigned long long ns = 0;
	FILE *f;

	snprintf(path, sizeof(path), "/proc/%d/schedstat", b->pid);
	f = fopen(path, "r");
	assert_non_null(f);
	assert_int_equal(fscanf(f, "%llu", &ns), 1);
	fclose(f);
	return (double)ns / 1e9;
}

/* Held with a full FIFO, and with a sender that has gone: the bench control sleeps. */
static void test_sleeps(void **state)
{
	const struct timespec half = {.tv_nsec = 500000000};
	struct bed b = {0};

	for (int brake = 0; brake < 2; brake++) {
		double before;
		int fd;

		start(&b, "--memory", "500", brake ? "--brake" : NULL, NULL);
		assert_true(bed_ask(&b, "read upper"));
		fd = bed_connect(&b, 0);
		bed_expect(fd, 0x11);
		assert_true(bed_send(fd, iso, text_len, 0, false));
		assert_true(bed_ask(&b, "wait held upper"));
		nanosleep(&half, NULL);
		before = busy_seconds(&b);
		nanosleep(&half, NULL);
		assert_true(busy_seconds(&b) - before < 0.2);
		close(fd);
		assert_false(bed_ask(&b, "wait loaded upper"));
		assert_non_null(strstr(b.answer, "memory-full"));
		before = busy_seconds(&b);
		nanosleep(&half, NULL);
		assert_true(busy_seconds(&b) - before < 0.2);
		end(&b);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(test_load_at_the_lines_pace),
	    cmocka_unit_test(test_dc3_at_the_reserve),
	    cmocka_unit_test(test_dc3_ignored_is_an_overrun),
	    cmocka_unit_test(test_dropped_character),
	    cmocka_unit_test(test_noise),
	    cmocka_unit_test(test_memory_full_holds),
	    cmocka_unit_test(test_memory_full_closes),
	    cmocka_unit_test(test_hold_and_go),
	    cmocka_unit_test(test_power_off_leaves_the_stump),
	    cmocka_unit_test(test_punch_stream),
	    cmocka_unit_test(test_punch_honours_dc3),
	    cmocka_unit_test(test_auto_and_edit),
	    cmocka_unit_test(test_one_line_takes_turns),
	    cmocka_unit_test(test_connection_goes_and_comes),
	    cmocka_unit_test(test_battery),
	    cmocka_unit_test(test_operator_errors),
	    cmocka_unit_test(test_sleeps),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
