/*
 * Goal: each trouble that the bench control can be told to have looks on the socket as it does in
 * the shop, and the bench control itself outlives wrong commands and lost connections.
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

static void test_doubled_character(void **state)
{
	struct bed b = {0};
	char want[sizeof(text) + 51];
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "double 50 upper"));
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_send(fd, iso, text_len, 0, false));
	assert_true(bed_ask(&b, "wait loaded upper"));
	snprintf(want, sizeof(want), "%.50s%s", text, text + 49);
	assert_true(bed_ask(&b, "show upper"));
	assert_string_equal(b.answer, want);
	assert_int_equal(bed_figure(&b, "upper.doubled"), 1);
	close(fd);
	end(&b);
}

/* One bit in a thousand: some of 24,000 are wrong, and the reader's parity check finds the first.
 */
static void test_bit_errors(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "read upper"));
	fd = bed_connect(&b, 0);
	bed_expect(fd, 0x11);
	assert_true(bed_ask(&b, "errors 1000"));
	assert_true(bed_send(fd, iso, text_len, 0, false));
	assert_false(bed_ask(&b, "wait loaded upper"));
	assert_non_null(strstr(b.answer, "alarm parity"));
	assert_int_equal(bed_figure(&b, "upper.damaged"), 1);
	assert_true(bed_ask(&b, "errors 0"));
	close(fd);
	end(&b);
}

static void test_noise(void **state)
{
	struct bed b = {0};
	int fd;

	start(&b, NULL, NULL, NULL, NULL);
	assert_true(bed_ask(&b, "noise 200"));
	/* Once: what follows the alarm would be read as a load of its own, with an alarm of its
	 * own. */
	assert_true(bed_ask(&b, "read upper"));
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

/* What comes of the tape of a program with a fault on its way out: its length, and the end. */
static size_t punched(struct bed *b, const char *fault, uint8_t *tape, size_t most, int *ended)
{
	size_t n = 0;
	int c, fd;

	if (*fault)
		assert_true(bed_ask(b, fault));
	fd = bed_connect(b, 0);
	assert_true(bed_ask(b, "punch upper 7"));
	while ((c = bed_byte(fd, 400)) >= 0 && n < most)
		tape[n++] = (uint8_t)c;
	*ended = c;
	close(fd);
	return n;
}

static void test_faults_of_a_punch(void **state)
{
	static const struct {
		const char *fault;
		int more, ended; /* characters more than without; -1: closed, -2: silence */
		bool good;
	} t[] = {{"punching drop 30", -1, -2, true}, {"punching double 30 upper", 1, -2, true},
	    {"punching noise 30", 0, -2, true}, {"punching drop 30 lower", 0, -2, true},
	    {"punching silent 20", -99, -2, false}, {"punching hang-up 20", -99, -1, false},
	    {"punching power-off 20", -99, -1, false}};
	uint8_t want[300], got[300];
	struct bed b = {0};
	size_t n;
	int ended;

	start(&b, "--leader", "5", "--trailer", "5");
	assert_true(bed_ask(&b, "key upper 7 \"A PROGRAM OF SOME LENGTH\""));
	n = punched(&b, "", want, sizeof(want), &ended);
	assert_in_range(n, 45, 80);
	for (size_t i = 0; i < sizeof(t) / sizeof(*t); i++) {
		size_t came = punched(&b, t[i].fault, got, sizeof(got), &ended), same = 0;

		assert_int_equal(ended, t[i].ended);
		assert_int_equal(came, t[i].more == -99 ? 20 : (int)n + t[i].more);
		while (same < came && got[same] == want[same])
			same++;
		assert_int_equal(same, t[i].more == -99               ? 20
		                       : strstr(t[i].fault, "lower")  ? n
		                       : strstr(t[i].fault, "double") ? 30
		                                                      : 29);
		if (strstr(t[i].fault, "noise")) {
			assert_int_equal(got[29] ^ want[29], 1);
			assert_memory_equal(got + 30, want + 30, n - 30);
		}
		assert_int_equal(bed_ask(&b, "wait punched upper"), t[i].good);
	}
	end(&b);
}

/* A wrong character is an alarm, or the control's port lets it pass, drops it, or puts a ? there.
 */
static void test_wrong_parity(void **state)
{
	static const char *const how[] = {"alarm", "pass", "drop", "replace"};

	for (size_t i = 0; i < 4; i++) {
		struct bed b = {0};
		char want[sizeof(text)];
		int fd;

		start(&b, "--parity", how[i], NULL, NULL);
		assert_true(bed_ask(&b, "noise 53"));
		assert_true(bed_ask(&b, "read upper"));
		fd = bed_connect(&b, 0);
		bed_expect(fd, 0x11);
		assert_true(bed_send(fd, iso, text_len, 0, false));
		assert_int_equal(bed_ask(&b, "wait loaded upper"), i > 0);
		assert_int_equal(bed_figure(&b, "upper.damaged"), 1);
		strcpy(want, text);
		if (i == 1)
			want[52] ^= 1;
		if (i == 2)
			memmove(want + 52, want + 53, strlen(want) - 52);
		if (i == 3)
			want[52] = '?';
		assert_true(bed_ask(&b, "show upper"));
		if (i > 0)
			assert_string_equal(b.answer, want);
		close(fd);
		end(&b);
	}
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
	char store[300], copy[BED_TEXT];
	int fd, got;

	bed_folder(&b);
	snprintf(store, sizeof(store), "%s/store", b.dir);
	start(&b, "--drain", "700", "--store", store);
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

	bed_file(&b, "store/upper/O4417.nc", copy, sizeof(copy));
	assert_string_equal(copy, b.answer); /* without a closing % */

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
	    cmocka_unit_test(test_dc3_ignored_is_an_overrun),
	    cmocka_unit_test(test_dropped_character),
	    cmocka_unit_test(test_doubled_character),
	    cmocka_unit_test(test_bit_errors),
	    cmocka_unit_test(test_noise),
	    cmocka_unit_test(test_faults_of_a_punch),
	    cmocka_unit_test(test_wrong_parity),
	    cmocka_unit_test(test_memory_full_holds),
	    cmocka_unit_test(test_memory_full_closes),
	    cmocka_unit_test(test_hold_and_go),
	    cmocka_unit_test(test_power_off_leaves_the_stump),
	    cmocka_unit_test(test_connection_goes_and_comes),
	    cmocka_unit_test(test_operator_errors),
	    cmocka_unit_test(test_sleeps),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
