/*
 * Goal: where no events are to be had the same files arrive by polling; and a root that goes away
 * is offline, never empty.
 */
#include "yard.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Case "Partial file picked up", pauses scaled, polled. */
static void partial_file_polled(void **state)
{
	struct yard *y = yard_open();
	const char *text = yard_program(4200);

	(void)state;
	y->settings.events = false;
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
	assert_true(a->complete);
	assert_int_equal(a->reason, INTAKE_POLL);
	/* Saved through rename. */
	yard_rename(y, "J4417.UP", "J4417.UP~");
	yard_write(y, "J4417.UP", yard_program(320), 320);
	assert_true(yard_until(y, &y->arrival_count, 2));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 2);
	assert_int_equal(y->arrivals[1].bytes_read, 320);
	assert_int_equal(intake_counts(y->intake).ignored, 1);
	yard_close(y);
}

static void new_folders_are_polled(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->settings.events = false;
	yard_start(y);
	yard_folder(y, "m1");
	yard_folder(y, "m1/sub");
	yard_write(y, "m1/sub/J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 1));
	/* No end mark: handed over flagged. */
	y->arrival_count = 0;
	yard_write(y, "m1/J2.UP", "%\nG1 X1", 7);
	assert_true(yard_until(y, &y->arrival_count, 1));
	assert_false(y->arrivals[0].complete);
	/* Gone is gone from memory, and nobody is told. */
	assert_int_equal(unlink(yard_path(y, "m1/J2.UP")), 0);
	yard_run(y, 200);
	assert_int_equal(intake_counts(y->intake).files, 1);
	yard_close(y);
}

static void fill(struct yard *y)
{
	char path[16];

	for (int i = 0; i < 6; i++) {
		snprintf(path, sizeof(path), "J%d.UP", i);
		yard_write(y, path, yard_program(100), 100);
	}
}

/* The root is renamed away, an empty folder takes its place without the marker, then it comes back.
 */
static void the_share_disappears(bool events)
{
	struct yard *y = yard_open();
	char away[300];

	snprintf(away, sizeof(away), "%s/away", y->base);
	y->settings.events = events;
	y->settings.marker = "this-is-the-share";
	yard_write(y, "this-is-the-share", "", 0);
	fill(y);
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 6));
	assert_int_equal(rename(y->root, away), 0);
	assert_true(yard_until(y, &y->offlines, 1));
	assert_true(intake_is_offline(y->intake));
	assert_non_null(strstr(y->text, "No such file or directory"));
	assert_int_equal(mkdir(y->root, 0755), 0);
	yard_write(y, "J9.UP", yard_program(100), 100); /* lands in the bare mount point */
	yard_run(y, 200);
	assert_int_equal(y->offlines, 1);
	assert_int_equal(y->onlines, 0);
	assert_int_equal(y->arrival_count, 6);
	assert_int_equal(intake_counts(y->intake).files, 6);
	assert_int_equal(unlink(yard_path(y, "J9.UP")), 0);
	assert_int_equal(rmdir(y->root), 0);
	assert_int_equal(rename(away, y->root), 0);
	assert_true(yard_until(y, &y->onlines, 1));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 6); /* nothing is new */
	yard_write(y, "J1.UP", yard_program(110), 110);
	assert_true(yard_until(y, &y->arrival_count, 7));
	assert_int_equal(y->refusal_count, 0);
	assert_int_equal(yard_count(y, "this-is-the-share"), 0);
	yard_close(y);
}

static void the_share_disappears_polled(void **state)
{
	(void)state;
	the_share_disappears(false);
}

static void the_share_disappears_watched(void **state)
{
	(void)state;
	the_share_disappears(true);
}

/* The same path on another device id. The root is a link here, so that a test may move it. */
static void another_device_is_not_the_share(void **state)
{
	struct yard *y = yard_open();
	char other[64] = "/dev/shm/yoke-yard-XXXXXX", root[300], first[300];
	struct stat here, there;

	(void)state;
	snprintf(root, sizeof(root), "%s/link", y->base);
	snprintf(first, sizeof(first), "%s", y->root);
	if (!mkdtemp(other) || stat(other, &there) < 0 || stat(first, &here) < 0 ||
	    here.st_dev == there.st_dev) {
		rmdir(other);
		yard_close(y);
		skip();
	}
	assert_int_equal(symlink(first, root), 0);
	y->settings.root = root;
	fill(y);
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 6));
	unlink(root);
	assert_int_equal(symlink(other, root), 0);
	assert_true(yard_until(y, &y->offlines, 1));
	assert_non_null(strstr(y->text, "another device"));
	yard_run(y, 100);
	assert_int_equal(y->onlines, 0);
	assert_int_equal(intake_counts(y->intake).files, 6);
	unlink(root);
	assert_int_equal(symlink(first, root), 0);
	assert_true(yard_until(y, &y->onlines, 1));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 6);
	assert_int_equal(rmdir(other), 0); /* nothing was written there */
	yard_close(y);
}

/* Not there at start: offline, and taken up when it appears. */
static void a_root_that_comes_later(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	assert_int_equal(rmdir(y->root), 0);
	yard_make(y);
	assert_int_equal(intake_start(y->intake), 0);
	assert_true(yard_until(y, &y->offlines, 1));
	assert_int_equal(mkdir(y->root, 0755), 0);
	fill(y);
	assert_true(yard_until(y, &y->arrival_count, 6));
	/* Removed and made anew in between two looks: watched again. */
	for (int i = 0; i < 6; i++) {
		char path[16];

		snprintf(path, sizeof(path), "J%d.UP", i);
		assert_int_equal(unlink(yard_path(y, path)), 0);
	}
	assert_int_equal(rmdir(y->root), 0);
	assert_int_equal(mkdir(y->root, 0755), 0);
	yard_run(y, 100);
	yard_write(y, "J9.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 7));
	yard_close(y);
}

/* What the service writes below the root is never looked into, and an intake changes nothing. */
static void nothing_is_touched(void **state)
{
	static const char *const skip_dirs[] = {".yoke", "m1/verdicts", NULL};
	struct yard *y = yard_open();
	struct stat before[3], after[3];
	static const char *const paths[] = {"", "m1", "m1/J1.UP"};

	(void)state;
	y->settings.skip_dirs = skip_dirs;
	yard_folder(y, ".yoke");
	yard_folder(y, "m1");
	yard_folder(y, "m1/verdicts");
	yard_write(y, "m1/J1.UP", yard_program(100), 100);
	for (int i = 0; i < 3; i++)
		assert_int_equal(stat(yard_path(y, paths[i]), &before[i]), 0);
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_write(y, ".yoke/J2.UP", yard_program(100), 100);
	yard_write(y, "m1/verdicts/J3.UP", yard_program(100), 100);
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 1);
	assert_int_equal(intake_counts(y->intake).ignored, 0);
	assert_int_equal(intake_counts(y->intake).watches, 2);
	for (int i = 0; i < 3; i++) {
		assert_int_equal(stat(yard_path(y, paths[i]), &after[i]), 0);
		assert_memory_equal(&before[i].st_mtim, &after[i].st_mtim, sizeof(struct timespec));
		assert_memory_equal(&before[i].st_ctim, &after[i].st_ctim, sizeof(struct timespec));
		assert_int_equal(before[i].st_mode, after[i].st_mode);
	}
	yard_close(y);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(partial_file_polled),
	    cmocka_unit_test(new_folders_are_polled),
	    cmocka_unit_test(the_share_disappears_polled),
	    cmocka_unit_test(the_share_disappears_watched),
	    cmocka_unit_test(another_device_is_not_the_share),
	    cmocka_unit_test(a_root_that_comes_later),
	    cmocka_unit_test(nothing_is_touched),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
