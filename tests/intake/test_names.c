/*
 * Goal: nothing that a folder can hold is followed, blocks, crashes or is half accepted; each odd
 * thing is told once, and the files beside it arrive.
 */
#include "yard.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/fsuid.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>
#include "yoke/limits.h"

static void make_socket(const char *path)
{
	struct sockaddr_un a = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);

	assert_true(strlen(path) < sizeof(a.sun_path));
	strcpy(a.sun_path, path);
	assert_int_equal(bind(fd, (struct sockaddr *)&a, sizeof(a)), 0);
	close(fd);
}

static void make_odd_things(struct yard *y)
{
	char outside[400];

	snprintf(outside, sizeof(outside), "%s/outside", y->base);
	mkdir(outside, 0755);
	yard_write(y, "../outside/secret.UP", yard_program(100), 100);
	assert_int_equal(mkfifo(yard_path(y, "pipe.UP"), 0644), 0);
	assert_int_equal(symlink("../outside/secret.UP", yard_path(y, "link.UP")), 0);
	assert_int_equal(symlink("../outside", yard_path(y, "linked")), 0);
	assert_int_equal(symlink("nowhere", yard_path(y, "dangling.UP")), 0);
	assert_int_equal(symlink("loop.UP", yard_path(y, "loop.UP")), 0);
	make_socket(yard_path(y, "socket.UP"));
	yard_folder(y, "J4417.UP");
	yard_folder(y, "bad\nfolder");
	yard_write(y, "bad\nfolder/J1.UP", yard_program(100), 100);
	yard_write(y, "J\x1b[2J.UP", yard_program(100), 100);
	yard_write(y, "J\xFF.UP", yard_program(100), 100);
	yard_write(y, "plain.UP", yard_program(100), 100);
	yard_write(y, "J4417.UP/inside.UP", yard_program(100), 100);
	int fd = open(yard_path(y, "huge.UP"), O_WRONLY | O_CREAT | O_CLOEXEC, 0644);
	assert_int_equal(ftruncate(fd, (off_t)YOKE_PROGRAM_MAX + 1), 0);
	close(fd);
}

static void check_odd_things(struct yard *y)
{
	assert_true(yard_until(y, &y->arrival_count, 2));
	yard_run(y, 200);
	assert_int_equal(y->arrival_count, 2);
	yard_only(y, "plain.UP");
	yard_only(y, "J4417.UP/inside.UP");
	assert_int_equal(yard_refused(y, "pipe.UP", INTAKE_REFUSED_KIND), 1);
	assert_int_equal(yard_refused(y, "socket.UP", INTAKE_REFUSED_KIND), 1);
	assert_int_equal(yard_refused(y, "link.UP", INTAKE_REFUSED_LINK), 1);
	assert_int_equal(yard_refused(y, "linked", INTAKE_REFUSED_LINK), 1);
	assert_int_equal(yard_refused(y, "dangling.UP", INTAKE_REFUSED_LINK), 1);
	assert_int_equal(yard_refused(y, "loop.UP", INTAKE_REFUSED_LINK), 1);
	assert_int_equal(yard_refused(y, "bad\nfolder", INTAKE_REFUSED_CONTROL), 1);
	assert_int_equal(yard_refused(y, "J\x1b[2J.UP", INTAKE_REFUSED_CONTROL), 1);
	assert_int_equal(yard_refused(y, "J\xFF.UP", INTAKE_REFUSED_ENCODING), 1);
	assert_int_equal(yard_refused(y, "huge.UP", INTAKE_REFUSED_SIZE), 1);
	assert_int_equal(y->refusal_count, 10);
	assert_int_equal(intake_counts(y->intake).refused, 10);
}

static void odd_things_there_at_start(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	make_odd_things(y);
	yard_start(y);
	check_odd_things(y);
	/* Told once: a scan tells nothing new. */
	intake_rescan(y->intake);
	assert_true(yard_until(y, &y->scans, 2));
	assert_int_equal(y->refusal_count, 10);
	yard_close(y);
}

static void odd_things_that_come_later(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	yard_start(y);
	make_odd_things(y);
	check_odd_things(y);
	yard_close(y);
}

static void odd_things_when_polled(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->settings.events = false;
	yard_start(y);
	make_odd_things(y);
	check_odd_things(y);
	yard_close(y);
}

/* A link put right becomes a file that arrives; the text says what to do. */
static void a_refusal_can_be_put_right(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	assert_int_equal(symlink("/etc/passwd", yard_path(y, "J1.UP")), 0);
	yard_start(y);
	assert_int_equal(yard_refused(y, "J1.UP", INTAKE_REFUSED_LINK), 1);
	assert_string_equal(y->refusals[0].text,
	    "J1.UP: is a symbolic link, and links are never followed: put the file itself here");
	assert_int_equal(unlink(yard_path(y, "J1.UP")), 0);
	yard_write(y, "J1.UP", yard_program(100), 100);
	assert_true(yard_until(y, &y->arrival_count, 1));
	assert_int_equal(unlink(yard_path(y, "J1.UP")), 0);
	assert_int_equal(symlink("/etc/passwd", yard_path(y, "J1.UP")), 0);
	assert_true(yard_until(y, &y->refusal_count, 2));
	yard_close(y);
}

/* A hard link brings no close: it arrives when it was quiet. */
static void hard_links_arrive(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	yard_write(y, "../aside", yard_program(100), 100);
	yard_start(y);
	assert_int_equal(link(yard_path(y, "../aside"), yard_path(y, "J1.UP")), 0);
	assert_true(yard_until(y, &y->arrival_count, 1));
	yard_close(y);
}

/* 40 folders deep: entered down to 32, told there. And a path of more than 1,024 bytes. */
static void deep_and_long_paths(void **state)
{
	struct yard *y = yard_open();
	char path[4096] = "", file[4200], name[201];

	(void)state;
	for (int i = 0; i < 33; i++) {
		strcat(path, i ? "/d" : "d");
		yard_folder(y, path);
		snprintf(file, sizeof(file), "%s/J1.UP", path);
		yard_write(y, file, yard_program(100), 100);
	}
	memset(name, 'n', 200);
	name[200] = '\0';
	strcpy(file, name);
	for (int i = 0; i < 6; i++) {
		yard_folder(y, file);
		strcat(strcat(file, "/"), name);
	}
	yard_start(y);
	assert_true(yard_until(y, &y->arrival_count, 32));
	yard_run(y, 100);
	assert_int_equal(y->arrival_count, 32);
	assert_int_equal(yard_refused(y, path, INTAKE_REFUSED_DEPTH), 1);
	assert_int_equal(y->refusal_count, 2);
	for (size_t i = 0; i < 2; i++)
		assert_true(y->refusals[i].why == INTAKE_REFUSED_DEPTH ||
		            y->refusals[i].why == INTAKE_REFUSED_LENGTH);
	yard_close(y);
}

/*
 * No permission for a file and for a folder: told once, taken when it is put right. The superuser
 * may read everything, so the test gives its file system identity away (setfsuid).
 */
static void unreadable_things(void **state)
{
	struct yard *y = yard_open();

	(void)state;
	y->settings.incomplete_ms = 100;
	assert_int_equal(chmod(y->base, 0755), 0);
	yard_write(y, "J1.UP", yard_program(100), 100);
	yard_folder(y, "m1");
	yard_write(y, "m1/J2.UP", yard_program(100), 100);
	assert_int_equal(chmod(yard_path(y, "J1.UP"), 0), 0);
	assert_int_equal(chmod(yard_path(y, "m1"), 0), 0);
	setfsuid(65534);
	yard_start(y);
	yard_run(y, 400);
	assert_int_equal(y->arrival_count, 0);
	assert_int_equal(yard_refused(y, "J1.UP", INTAKE_REFUSED_UNREADABLE), 1);
	assert_int_equal(yard_refused(y, "m1", INTAKE_REFUSED_UNREADABLE), 1);
	assert_int_equal(y->refusal_count, 2);
	setfsuid(getuid());
	assert_int_equal(chmod(yard_path(y, "J1.UP"), 0644), 0);
	assert_int_equal(chmod(yard_path(y, "m1"), 0755), 0);
	setfsuid(65534);
	bool came = yard_until(y, &y->arrival_count, 2);
	setfsuid(getuid());
	assert_true(came);
	yard_only(y, "J1.UP");
	yard_only(y, "m1/J2.UP");
	yard_close(y);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(odd_things_there_at_start),
	    cmocka_unit_test(odd_things_that_come_later),
	    cmocka_unit_test(odd_things_when_polled),
	    cmocka_unit_test(a_refusal_can_be_put_right),
	    cmocka_unit_test(hard_links_arrive),
	    cmocka_unit_test(deep_and_long_paths),
	    cmocka_unit_test(unreadable_things),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
