/* Goal: a file is read once, whole, with its right sum and the same findings however large; or
 * refused with a reason. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>
#include "load.h"
#include "scratch.h"
#include "sha256.h"

static struct profile profile;
static struct text why;

static void expect(const char *said)
{
	if (!why.s || !strstr(why.s, said))
		fail_msg("expected '%s', got '%s'", said, why.s ? why.s : "");
	text_free(&why);
}

static void test_program(void **state)
{
	static const char bytes[] = "%\nO4417 (JOB J4417 REV C UPPER)\nM201\nM30\n%\n";
	int fd = load_open(scratch_file(state, "J4417-C.upper.nc", bytes), &why);
	uint8_t sum[YOKE_SHA_SIZE], expected[YOKE_SHA_SIZE];
	struct program *p;

	assert_true(fd >= 0);
	assert_int_equal(load_program(fd, "J4417-C.upper.nc", &profile, &p, sum, &why), 0);
	sha256_of(bytes, sizeof(bytes) - 1, expected);
	assert_memory_equal(sum, expected, sizeof(sum));
	assert_int_equal(program_size(p), sizeof(bytes) - 1);
	assert_string_equal(program_job(p), "J4417");
	program_free(p);
	/* a second reading begins at the beginning again */
	assert_int_equal(load_program(fd, "J4417-C.upper.nc", &profile, &p, sum, &why), 0);
	assert_memory_equal(sum, expected, sizeof(sum));
	program_free(p);
	close(fd);
}

/* One file that holds both channels: the sum is that of the file. */
static void test_split(void **state)
{
	static const char bytes[] = "%\n(JOB J4417 REV C)\n$2\nM201\nM30\n$1\nM201\nM30\n%\n";
	int fd = load_open(scratch_file(state, "J4417-C.nc", bytes), &why);
	uint8_t sum[YOKE_SHA_SIZE], expected[YOKE_SHA_SIZE];
	struct program *p[YOKE_CHANNELS_MAX];
	struct profile split = profile;

	assert_int_equal(
	    profile_set(&split, "programs", "separator", "$ {channel}", &why), PROFILE_OK);
	assert_int_equal(load_split(fd, "J4417-C.nc", &split, NULL, 0, false, p, sum, &why), 2);
	sha256_of(bytes, sizeof(bytes) - 1, expected);
	assert_memory_equal(sum, expected, sizeof(sum));
	assert_int_equal(program_channel(p[0]), 0);
	assert_int_equal(program_channel(p[1]), 1);
	program_free(p[0]);
	program_free(p[1]);
	assert_int_equal(
	    profile_set(&split, "programs", "separator", "# {channel}", &why), PROFILE_OK);
	assert_int_equal(load_split(fd, "J4417-C.nc", &split, NULL, 0, false, p, sum, &why), 0);
	close(fd);
	assert_int_equal(load_split(-1, "closed", &split, NULL, 0, false, p, sum, &why), -1);
	expect("closed: Bad file descriptor");
}

/* Larger than a chunk, and not a multiple of one. */
static void test_large(void **state)
{
	size_t n = (3 << 20) + 12345, got;
	char *bytes = malloc(n), *back;
	uint8_t sum[YOKE_SHA_SIZE], expected[YOKE_SHA_SIZE];
	struct program *p;
	int fd;

	assert_non_null(bytes);
	for (size_t i = 0; i < n; i++)
		bytes[i] = "G1 X1.5\n"[i % 8];
	fd = load_open(scratch_bytes(state, "large", bytes, n), &why);
	assert_true(fd >= 0);
	sha256_of(bytes, n, expected);
	assert_int_equal(load_program(fd, "large", &profile, &p, sum, &why), 0);
	assert_memory_equal(sum, expected, sizeof(sum));
	assert_int_equal(program_size(p), n);
	assert_int_equal(program_blocks(p), (n + 7) / 8);
	program_free(p);
	assert_int_equal(load_bytes(fd, "large", &back, &got, sum, &why), 0);
	assert_int_equal(got, n);
	assert_memory_equal(back, bytes, n);
	assert_memory_equal(sum, expected, sizeof(sum));
	free(back);
	free(bytes);
	close(fd);
}

static void test_empty(void **state)
{
	int fd = load_open(scratch_file(state, "empty", ""), &why);
	uint8_t sum[YOKE_SHA_SIZE], expected[YOKE_SHA_SIZE];
	char *bytes;
	size_t n;

	assert_true(fd >= 0);
	assert_int_equal(load_bytes(fd, "empty", &bytes, &n, sum, &why), 0);
	sha256_of(NULL, 0, expected);
	assert_int_equal(n, 0);
	assert_memory_equal(sum, expected, sizeof(sum));
	free(bytes);
	close(fd);
}

static void test_refused(void **state)
{
	uint8_t sum[YOKE_SHA_SIZE];
	struct program *p = (struct program *)&profile;
	int pair[2], fd;

	assert_int_equal(load_open(scratch_path(state, "none"), &why), -1);
	expect("none: No such file or directory");
	assert_int_equal(load_open(*state, &why), -1);
	expect("is a directory");
	assert_int_equal(load_open("/dev/zero", &why), -1);
	expect("is a device or a socket");
	assert_int_equal(load_open("bad\x1bname", &why), -1);
	expect("bad<1B>name: ");
	fd = open(scratch_file(state, "huge", ""), O_RDWR | O_CLOEXEC);
	assert_int_equal(ftruncate(fd, (off_t)YOKE_PROGRAM_MAX + 1), 0);
	assert_int_equal(load_open(scratch_path(state, "huge"), &why), -1);
	expect("is larger than 1 GiB");
	close(fd);
	assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, pair), 0);
	assert_int_equal(load_program(pair[0], "socket", &profile, &p, sum, &why), -1);
	assert_null(p);
	expect("is a device or a socket");
	close(pair[0]);
	close(pair[1]);
	assert_int_equal(load_program(-1, "closed", &profile, &p, sum, &why), -1);
	expect("closed: Bad file descriptor");
	fd = open(scratch_path(state, "huge"), O_WRONLY | O_CLOEXEC | O_TRUNC);
	assert_int_equal(load_program(fd, "huge", &profile, &p, sum, &why), -1);
	expect("Bad file descriptor");
	close(fd);
}

static void test_pipe(void **state)
{
	uint8_t sum[YOKE_SHA_SIZE];
	char *bytes;
	size_t n;
	int fd[2];

	assert_int_equal(pipe2(fd, O_CLOEXEC | O_NONBLOCK), 0);
	assert_int_equal(write(fd[1], "G0\n", 3), 3);
	close(fd[1]);
	assert_int_equal(load_bytes(fd[0], "pipe", &bytes, &n, sum, &why), 0);
	assert_int_equal(n, 3);
	free(bytes);
	close(fd[0]);
	/* a named pipe without a writer is empty, and never waited for */
	assert_int_equal(mkfifo(scratch_path(state, "fifo"), 0600), 0);
	fd[0] = load_open(scratch_path(state, "fifo"), &why);
	assert_true(fd[0] >= 0);
	assert_int_equal(load_bytes(fd[0], "fifo", &bytes, &n, sum, &why), 0);
	assert_int_equal(n, 0);
	free(bytes);
	close(fd[0]);
}

static int start(void **state)
{
	profile_defaults(&profile);
	return 0;
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, scratch_setup, scratch_teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(test_program),
	    TEST(test_split),
	    TEST(test_large),
	    TEST(test_empty),
	    TEST(test_refused),
	    TEST(test_pipe),
	};

	return cmocka_run_group_tests(tests, start, NULL);
}
