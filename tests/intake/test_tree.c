/*
 * Goal: folders may come, move and go, in any number and depth, and every file in them arrives
 * once; the first scan is done in slices.
 */
#include "yard.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

/* Folders made and filled faster than they can be watched. */
static void new_folders_made_quickly(void **state)
{
	struct yard *y = yard_open();
	char path[256];

	(void)state;
	yard_start(y);
	for (int i = 0; i < 10; i++) {
		int n = snprintf(path, sizeof(path), "m%d", i);

		for (int depth = 0; depth < 6; depth++) {
			char file[300];

			yard_folder(y, path);
			snprintf(file, sizeof(file), "%s/J%d.UP", path, depth);
			yard_write(y, file, yard_program(100), 100);
			n += snprintf(path + n, sizeof(path) - (size_t)n, "/d%d", depth);
		}
		if (i == 5)
			yard_run(y, 5);
	}
	assert_true(yard_until(y, &y->arrival_count, 60));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 60);
	assert_int_equal(intake_counts(y->intake).watches, 61);
	yard_close(y);
}

/* Moved in from beside the root, renamed within, moved out again: events follow the right path. */
static void folders_move(void **state)
{
	struct yard *y = yard_open();
	char outside[400];

	(void)state;
	snprintf(outside, sizeof(outside), "%s/outside", y->base);
	assert_int_equal(mkdir(outside, 0755), 0);
	yard_start(y);
	yard_write(y, "../outside/J1.UP", yard_program(100), 100);
	yard_folder(y, "../outside/sub");
	yard_write(y, "../outside/sub/J2.UP", yard_program(100), 100);
	yard_rename(y, "../outside", "m1");
	assert_true(yard_until(y, &y->arrival_count, 2));
	yard_only(y, "m1/J1.UP");
	yard_only(y, "m1/sub/J2.UP");
	yard_rename(y, "m1", "m2");
	assert_true(yard_until(y, &y->arrival_count, 4)); /* known by another path now */
	yard_write(y, "m2/sub/J3.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 5));
	yard_only(y, "m2/sub/J3.UP");
	yard_rename(y, "m2", "../outside");
	yard_run(y, 50);
	yard_write(y, "../outside/sub/J4.UP", yard_program(100), 100);
	yard_write(y, "../outside/J5.UP", yard_program(100), 100);
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 5);
	assert_int_equal(intake_counts(y->intake).watches, 1);
	assert_int_equal(y->refusal_count, 0);
	yard_close(y);
}

/* When no more folders can be watched the rest is polled, and it is said. */
static void the_watch_limit_is_told(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->settings.watch_limit = 2;
	for (int i = 0; i < 4; i++) {
		static const char *const dirs[] = {"m1", "m2", "m3", "m3/sub"};

		yard_folder(y, dirs[i]);
	}
	yard_start(y);
	assert_int_equal(y->notices, 1);
	assert_non_null(strstr(y->text, "polled every 20 ms"));
	assert_int_equal(intake_counts(y->intake).watches, 2);
	yard_write(y, "m1/J1.UP", yard_program(100), 100);
	yard_write(y, "m2/J2.UP", yard_program(100), 100);
	yard_write(y, "m3/sub/J3.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 3));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 3);
	unsigned polled = 0;
	for (size_t i = 0; i < 3; i++)
		polled += y->arrivals[i].reason == INTAKE_POLL;
	assert_int_equal(polled, 2);
	yard_close(y);
}

static size_t arrived_before, most_in_a_turn;

static void count_turn(uv_prepare_t *p)
{
	struct yard *y = p->data;

	if (y->arrival_count - arrived_before > most_in_a_turn)
		most_in_a_turn = y->arrival_count - arrived_before;
	arrived_before = y->arrival_count;
}

/* 3,000 old files at start: taken in slices of at most 64. */
static void the_first_scan_is_sliced(void **state)
{
	struct yard *y = yard_open();
	uv_prepare_t prepare;
	char path[32];

	(void)state;
	arrived_before = most_in_a_turn = 0;
	y->settings.settle_ms = 0;
	y->settings.incomplete_ms = 0;
	for (int i = 0; i < 3000; i++) {
		snprintf(path, sizeof(path), "J%d.UP", i);
		yard_write(y, path, "M30\n", 4);
	}
	uv_prepare_init(&y->loop, &prepare);
	prepare.data = y;
	uv_prepare_start(&prepare, count_turn);
	yard_start(y);
	assert_int_equal(y->arrival_count, 3000);
	assert_true(most_in_a_turn >= 1 && most_in_a_turn <= 64);
	for (size_t i = 0; i < 3000; i++)
		assert_int_equal(y->arrivals[i].reason, INTAKE_RESCAN);
	uv_close((uv_handle_t *)&prepare, NULL);
	yard_close(y);
}

/* What was handed over in an earlier run is not read again, what changed is. */
static void known_files_rest(void **state)
{
	struct yard *y = yard_open();
	struct stat st;

	(void)state;
	yard_folder(y, "m1");
	yard_write(y, "m1/J1.UP", yard_program(100), 100);
	yard_write(y, "m1/J2.UP", yard_program(100), 100);
	yard_make(y);
	for (int i = 0; i < 2; i++) {
		const char *path = i ? "m1/J2.UP" : "m1/J1.UP";

		assert_int_equal(stat(yard_path(y, path), &st), 0);
		struct intake_state s = {.ino = st.st_ino,
		    .size = (uint64_t)st.st_size + (i == 1),
		    .mtime_ns = st.st_mtim.tv_sec * INT64_C(1000000000) + st.st_mtim.tv_nsec};
		assert_int_equal(intake_known(y->intake, path, &s), 0);
	}
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 1);
	yard_only(y, "m1/J2.UP");
	yard_close(y);
}

/* Names that are gone are forgotten by the next scan: memory follows the folder. */
static void memory_follows_the_folder(void **state)
{
	struct yard *y = yard_open();
	char path[32];

	(void)state;
	yard_start(y);
	for (int i = 0; i < 50; i++) {
		snprintf(path, sizeof(path), "J%d.%s", i, i % 2 ? "UP" : "tmp");
		yard_write(y, path, yard_program(100), 100);
	}
	assert_true(yard_until(y, &y->arrival_count, 25));
	assert_int_equal(intake_counts(y->intake).ignored, 25);
	assert_int_equal(intake_counts(y->intake).files, 50);
	for (int i = 0; i < 50; i++) {
		snprintf(path, sizeof(path), "J%d.%s", i, i % 2 ? "UP" : "tmp");
		assert_int_equal(unlink(yard_path(y, path)), 0);
	}
	yard_run(y, 100);
	assert_int_equal(intake_counts(y->intake).files, 0);
	assert_int_equal(y->refusal_count, 0);
	assert_int_equal(y->offlines, 0);
	yard_close(y);
}

/* Without a free descriptor nothing is called offline, and nothing is lost. */
static void out_of_descriptors(void **state)
{
	struct yard *y = yard_open();
	struct rlimit was, none;

	(void)state;
	yard_start(y);
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_int_equal(getrlimit(RLIMIT_NOFILE, &was), 0);
	none = was;
	none.rlim_cur = 3;
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &none), 0);
	yard_run(y, 100);
	assert_int_equal(setrlimit(RLIMIT_NOFILE, &was), 0);
	assert_int_equal(y->arrival_count, 0);
	assert_int_equal(y->offlines, 0);
	assert_int_equal(y->refusal_count, 0);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_close(y);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(new_folders_made_quickly),
	    cmocka_unit_test(folders_move),
	    cmocka_unit_test(the_watch_limit_is_told),
	    cmocka_unit_test(the_first_scan_is_sliced),
	    cmocka_unit_test(known_files_rest),
	    cmocka_unit_test(memory_follows_the_folder),
	    cmocka_unit_test(out_of_descriptors),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
