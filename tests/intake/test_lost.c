/*
 * Goal: whatever is done to the folder, in whatever order and however quickly, in the end the last
 * arrival of every file there is holds that file's present bytes. Random walks, repeatable by their
 * seed.
 */
#include "yard.h"

#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const char *const folders[] = {"", "m1/", "m2/", "m1/sub/", "m1/sub/deep/"};
static const char *const names[] = {"J1.UP", "J1.LO", "J2.UP", "J3.UP~", "J4.tmp"};

#define PICK(a) ((a)[rand() % (int)(sizeof(a) / sizeof(*(a)))])

static void pick_path(char *path, size_t size)
{
	const char *folder = PICK(folders);

	snprintf(path, size, "%s%s", folder, PICK(names));
}

static void save(struct yard *y, const char *path, bool append)
{
	char text[200];
	int n = snprintf(text, sizeof(text), "%%\nO%d\nX%d.\nM30\n%%\n", rand() % 9999, rand());
	int fd = open(yard_path(y, path),
	    O_WRONLY | O_CREAT | O_CLOEXEC | (append ? O_APPEND : O_TRUNC), 0644);

	if (fd < 0)
		return; /* no such folder at the moment */
	assert_int_equal(write(fd, text, (size_t)n / 2), n / 2);
	if (rand() % 4 == 0)
		yard_run(y, 1);
	assert_int_equal(write(fd, text + n / 2, (size_t)(n - n / 2)), n - n / 2);
	close(fd);
}

static void one_step(struct yard *y)
{
	char a[64], b[64];

	pick_path(a, sizeof(a));
	pick_path(b, sizeof(b));
	switch (rand() % 12) {
	case 0:
		mkdir(yard_path(y, "m1"), 0755);
		mkdir(yard_path(y, "m1/sub"), 0755);
		mkdir(yard_path(y, "m1/sub/deep"), 0755);
		break;
	case 1:
		rename(yard_path(y, "m1"), yard_path(y, "m2"));
		break;
	case 2:
		rename(yard_path(y, "m2"), yard_path(y, "m1/sub/deep"));
		break;
	case 3:
		rename(yard_path(y, "m1/sub"), yard_path(y, "m2"));
		break;
	case 4:
		unlink(yard_path(y, a));
		break;
	case 5:
	case 6:
		rename(yard_path(y, a), yard_path(y, b));
		break;
	case 7:
		save(y, a, true);
		break;
	case 8:
		yard_run(y, (unsigned)rand() % 10);
		break;
	default:
		save(y, a, false);
	}
}

static struct yard *checked;
static size_t files_checked;

static int check_file(const char *full, const struct stat *st, int kind, struct FTW *ftw)
{
	const char *path = full + strlen(checked->root) + 1;
	const struct yard_arrival *last = NULL;
	unsigned char text[65536];
	uint32_t sum = 0;

	(void)st;
	(void)ftw;
	size_t len = strlen(path);
	if (kind != FTW_F || path[len - 1] == '~' ||
	    (len > 4 && strcmp(path + len - 4, ".tmp") == 0))
		return 0;
	int fd = open(full, O_RDONLY | O_CLOEXEC);
	ssize_t n = read(fd, text, sizeof(text));
	close(fd);
	for (ssize_t i = 0; i < n; i++)
		sum = sum * 31 + text[i];
	for (size_t i = 0; i < checked->arrival_count; i++)
		if (strcmp(checked->arrivals[i].path, path) == 0)
			last = &checked->arrivals[i];
	if (!last || last->sum != sum || !last->complete)
		fail_msg("%s: %s", path, last ? "older bytes arrived last" : "never arrived");
	files_checked++;
	return 0;
}

static void walk(bool events, uint32_t watch_limit, unsigned seeds)
{
	files_checked = 0;
	for (unsigned seed = 1; seed <= seeds; seed++) {
		struct yard *y = yard_open();

		srand(seed);
		y->settings.events = events;
		y->settings.watch_limit = watch_limit;
		y->settings.settle_ms = 25;
		yard_start(y);
		for (int i = 0; i < 200; i++)
			one_step(y);
		yard_run(y, 150);
		for (int i = 0; i < 100 && intake_counts(y->intake).waiting > 0; i++)
			yard_run(y, 50);
		checked = y;
		print_message("seed %u: %zu arrivals\n", seed, y->arrival_count);
		nftw(y->root, check_file, 16, FTW_PHYS);
		assert_int_equal(y->refusal_count + y->offlines + y->overflows, 0);
		yard_close(y);
	}
	assert_true(files_checked > seeds);
}

static void nothing_is_lost_with_events(void **state)
{
	(void)state;
	walk(true, 0, 12);
}

static void nothing_is_lost_by_polling(void **state)
{
	(void)state;
	walk(false, 0, 6);
}

static void nothing_is_lost_at_the_watch_limit(void **state)
{
	(void)state;
	walk(true, 2, 6);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(nothing_is_lost_with_events),
	    cmocka_unit_test(nothing_is_lost_by_polling),
	    cmocka_unit_test(nothing_is_lost_at_the_watch_limit),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
