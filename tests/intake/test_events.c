/*
 * Goal: with the kernel's events a whole file arrives exactly once, in whatever way it is saved,
 * and nothing is lost when events are.
 */
#include "yard.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Case "Partial file picked up", pauses scaled; the writer keeps the file open. */
static void partial_file(void **state)
{
	struct yard *y = yard_open();
	const char *text = yard_program(4200);

	(void)state;
	yard_start(y);
	int fd = open(yard_path(y, "J4417.UP"), O_WRONLY | O_CREAT | O_CLOEXEC, 0644);
	assert_int_equal(write(fd, text, 1800), 1800);
	yard_run(y, 150);
	assert_int_equal(write(fd, text + 1800, 2390), 2390);
	yard_run(y, 600);
	assert_int_equal(y->arrival_count, 0);
	assert_int_equal(write(fd, text + 4190, 10), 10);
	close(fd);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_run(y, 200);
	const struct yard_arrival *a = yard_only(y, "J4417.UP");
	assert_int_equal(a->bytes_read, 4200);
	assert_int_equal(a->state.size, 4200);
	assert_int_equal(a->uid, getuid());
	assert_true(a->complete);
	assert_int_equal(a->reason, INTAKE_EVENT);
	assert_int_equal(y->refusal_count, 0);
	yard_close(y);
}

/* The same, with a writer that closes after each piece. */
static void partial_file_closed_between(void **state)
{
	struct yard *y = yard_open();
	const char *text = yard_program(4200);

	(void)state;
	yard_start(y);
	yard_append(y, "J4417.UP", text, 1800);
	yard_run(y, 150);
	yard_append(y, "J4417.UP", text + 1800, 2390);
	yard_run(y, 600);
	assert_int_equal(intake_counts(y->intake).waiting, 1);
	yard_append(y, "J4417.UP", text + 4190, 10);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_run(y, 200);
	assert_int_equal(yard_only(y, "J4417.UP")->bytes_read, 4200);
	assert_int_equal(intake_counts(y->intake).waiting, 0);
	yard_close(y);
}

/* Case "Editor saves through rename". */
static void save_through_rename(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	yard_write(y, "J4417.UP", yard_program(300), 300);
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_write(y, "4913", "", 0);
	unlink(yard_path(y, "4913"));
	yard_rename(y, "J4417.UP", "J4417.UP~");
	yard_write(y, "J4417.UP", yard_program(320), 320);
	unlink(yard_path(y, "J4417.UP~"));
	yard_write(y, ".J4417.UP.swp", "x", 1);
	yard_write(y, "J4417.UP.bak", yard_program(300), 300);
	yard_write(y, "~$J4417.UP", "x", 1);
	yard_write(y, "x.tmp", yard_program(300), 300);
	yard_run(y, 300);
	assert_int_equal(y->arrival_count, 2);
	assert_int_equal(y->arrivals[1].bytes_read, 320);
	assert_int_equal(intake_counts(y->intake).ignored, 6);
	assert_int_equal(y->refusal_count, 0);
	/* Written aside and renamed over: one arrival. */
	yard_write(y, "J4417.UP.tmp", yard_program(340), 340);
	yard_rename(y, "J4417.UP.tmp", "J4417.UP");
	yard_run(y, 300);
	assert_int_equal(y->arrival_count, 3);
	assert_int_equal(y->arrivals[2].bytes_read, 340);
	yard_close(y);
}

static void one_state_arrives_once(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	yard_write(y, "J1.UP", yard_program(100), 100);
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_run(y, 50);
	/* Opened for writing, but nothing written. */
	int fd = open(yard_path(y, "J1.UP"), O_RDWR | O_CLOEXEC);
	close(fd);
	intake_rescan(y->intake);
	assert_true(yard_until(y, &y->scans, 2));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 1);
	/* The same text saved again is a new state: the receiver tells it by content. */
	uint32_t sum = y->arrivals[0].sum;
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 2));
	assert_int_equal(y->arrivals[1].sum, sum);
	yard_close(y);
}

/* More events than the kernel queues (fs.inotify.max_queued_events) while nobody reads them. */
static void overflow_is_made_good(void **state)
{
	struct yard *y = yard_open();
	FILE *f = fopen("/proc/sys/fs/inotify/max_queued_events", "r");
	int most = 0;
	char path[32];

	(void)state;
	assert_non_null(f);
	assert_int_equal(fscanf(f, "%d", &most), 1);
	fclose(f);
	yard_write(y, "x.tmp", "", 0);
	yard_start(y);
	for (int i = 0; i < most; i++)
		yard_rename(y, i % 2 ? "y.tmp" : "x.tmp", i % 2 ? "x.tmp" : "y.tmp");
	yard_folder(y, "late");
	for (int i = 0; i < 100; i++) {
		snprintf(path, sizeof(path), "%sJ%d.UP", i % 2 ? "late/" : "", i);
		yard_write(y, path, yard_program(100), 100);
	}
	assert_true(yard_until(y, &y->arrival_count, 100));
	yard_run(y, 200);
	assert_true(y->overflows >= 1);
	assert_int_equal(y->arrival_count, 100);
	for (int i = 0; i < 100; i++) {
		snprintf(path, sizeof(path), "%sJ%d.UP", i % 2 ? "late/" : "", i);
		yard_only(y, path);
	}
	/* And events work again, in the new folder too. */
	yard_write(y, "late/again.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 101));
	assert_int_equal(y->arrivals[100].reason, INTAKE_EVENT);
	yard_close(y);
}

static void empty_file_is_handed_over_flagged(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->settings.incomplete_ms = 300;
	yard_start(y);
	yard_write(y, "J1.UP", "", 0);
	yard_run(y, 150);
	assert_int_equal(y->arrival_count, 0);
	assert_true(yard_until(y, &y->arrival_count, 1));
	assert_false(y->arrivals[0].complete);
	assert_int_equal(y->arrivals[0].state.size, 0);
	assert_int_equal(intake_counts(y->intake).incomplete, 1);
	/* It grows: handed over again. */
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 2));
	assert_true(y->arrivals[1].complete);
	yard_close(y);
}

/* Case "Clocks": times in the future, then all an hour less with equal bytes. */
static void file_times_do_not_rule(void **state)
{
	struct yard *y = yard_open();
	struct timespec times[2];

	(void)state;
	yard_write(y, "J1.UP", yard_program(100), 100);
	clock_gettime(CLOCK_REALTIME, &times[1]);
	times[1].tv_sec += 2400;
	times[0] = times[1];
	assert_int_equal(utimensat(AT_FDCWD, yard_path(y, "J1.UP"), times, 0), 0);
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 1));
	assert_int_equal(y->arrivals[0].state.mtime_ns / 1000000000, times[1].tv_sec);
	times[1].tv_sec -= 3600;
	times[0] = times[1];
	assert_int_equal(utimensat(AT_FDCWD, yard_path(y, "J1.UP"), times, 0), 0);
	intake_rescan(y->intake);
	assert_true(yard_until(y, &y->arrival_count, 2));
	assert_int_equal(y->arrivals[0].sum, y->arrivals[1].sum);
	yard_close(y);
}

static void append_while_read(struct yard *y, const struct intake_file *file)
{
	if (y->arrival_count > 0) {
		assert_true(intake_still_same(y->intake, file));
		return;
	}
	assert_true(intake_still_same(y->intake, file));
	int fd = open(yard_path(y, file->path), O_WRONLY | O_APPEND | O_CLOEXEC);
	assert_int_equal(write(fd, "(MORE)\n", 7), 7);
	assert_false(intake_still_same(y->intake, file));
	assert_int_equal(ftruncate(fd, 100), 0);
	close(fd);
}

/* Written to while it is read: the receiver is told, and the file comes again. */
static void torn_read_is_told(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->during = append_while_read;
	yard_start(y);
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 2));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 2);
	assert_int_equal(y->arrivals[1].bytes_read, 100);
	yard_close(y);
}

static int still_open = -1;

static void rewrite_while_read(struct yard *y, const struct intake_file *file)
{
	if (still_open >= 0)
		return;
	still_open = open(yard_path(y, file->path), O_WRONLY | O_CLOEXEC);
	assert_int_equal(write(still_open, yard_program(120), 120), 120);
	assert_false(intake_still_same(y->intake, file));
}

/* The same with a writer that does not close, so that no event comes: the torn read brings a new
 * look. */
static void torn_read_without_event(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->during = rewrite_while_read;
	yard_start(y);
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 2));
	assert_int_equal(y->arrivals[1].bytes_read, 120);
	close(still_open);
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 2);
	yard_close(y);
}

static void pause_each(struct yard *y, const struct intake_file *file)
{
	(void)file;
	intake_pause(y->intake);
}

/* Back-pressure: one file at a time, none between pause and resume. */
static void the_receiver_sets_the_pace(void **state)
{
	struct yard *y = yard_open();
	char path[32];

	(void)state;
	yard_start(y);
	y->during = pause_each;
	for (int i = 0; i < 20; i++) {
		snprintf(path, sizeof(path), "J%d.UP", i);
		yard_write(y, path, yard_program(100), 100);
	}
	for (size_t i = 1; i <= 20; i++) {
		assert_true(yard_until(y, &y->arrival_count, i));
		yard_run(y, 30);
		assert_int_equal(y->arrival_count, i);
		intake_resume(y->intake);
	}
	yard_run(y, 100);
	assert_int_equal(y->arrival_count, 20);
	yard_close(y);
}

static void asked_for_again_it_comes_again(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	yard_start(y);
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 1));
	assert_int_equal(intake_again(y->intake, "J1.UP", 50), 0);
	assert_int_equal(intake_again(y->intake, "J2.UP", 50), -ENOENT);
	assert_true(yard_until(y, &y->arrival_count, 2));
	yard_run(y, 100);
	assert_int_equal(y->arrival_count, 2);
	yard_close(y);
}

static void free_at_once(struct yard *y, const struct intake_file *file)
{
	(void)file;
	intake_free(y->intake);
	y->intake = NULL;
}

static void it_may_end_inside_a_call(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	yard_start(y);
	y->during = free_at_once;
	yard_write(y, "J1.UP", yard_program(100), 100);
	yard_write(y, "J2.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_run(y, 100);
	assert_int_equal(y->arrival_count, 1);
	yard_close(y);
}

static void wrong_use_is_refused(void **state)
{
	struct yard *y = yard_open();
	struct intake_calls none = {0};
	struct intake_state s = {.ino = 1};

	(void)state;
	assert_null(intake_new(&y->loop, &y->settings, &none, y));
	assert_int_equal(errno, EINVAL);
	yard_make(y);
	assert_int_equal(intake_known(y->intake, "../J1.UP", &s), -EINVAL);
	assert_int_equal(intake_known(y->intake, "/J1.UP", &s), -EINVAL);
	assert_int_equal(intake_known(y->intake, "a//J1.UP", &s), -EINVAL);
	assert_int_equal(intake_known(y->intake, "", &s), -EINVAL);
	assert_int_equal(intake_known(y->intake, "a\n", &s), -EINVAL);
	assert_int_equal(intake_known(y->intake, "m1/J1.UP", &s), 0);
	assert_int_equal(intake_start(y->intake), 0);
	assert_int_equal(intake_start(y->intake), -EALREADY);
	assert_string_equal(intake_refusal_name(INTAKE_REFUSED_LINK), "link");
	assert_string_equal(intake_refusal_name((enum intake_refusal)99), "unknown");
	intake_free(NULL);
	yard_close(y);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(partial_file),
	    cmocka_unit_test(partial_file_closed_between),
	    cmocka_unit_test(save_through_rename),
	    cmocka_unit_test(one_state_arrives_once),
	    cmocka_unit_test(overflow_is_made_good),
	    cmocka_unit_test(empty_file_is_handed_over_flagged),
	    cmocka_unit_test(file_times_do_not_rule),
	    cmocka_unit_test(torn_read_is_told),
	    cmocka_unit_test(torn_read_without_event),
	    cmocka_unit_test(the_receiver_sets_the_pace),
	    cmocka_unit_test(asked_for_again_it_comes_again),
	    cmocka_unit_test(it_may_end_inside_a_call),
	    cmocka_unit_test(wrong_use_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
