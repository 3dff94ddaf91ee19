/*
 * Goal: an order that is not possible, a name that leads elsewhere and a share that is not there
 * are refused before anything is written.
 */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include "leftover.h"
#include "place.h"
#include "secret.h"
#include "share_case.h"

static void one_name_in_one_folder_is_refused(void **state)
{
	rig_directory(&r, 1, "path1", "4417.nc"); /* a share may not tell the cases apart */
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.steps, 0);
}

/* A client's key, which libssh2 reads by its path, was in the core of a carrier that crashed; a password was not. */
static void no_core_holds_a_secret(void **state)
{
	char place[300], path[YOKE_PATH_MAX + 1], secret[SECRET_MAX + 1];

	rig_write(&r, "secret", "sesame\n");
	assert_int_equal(chmod(rig_path(&r, "secret"), 0600), 0);
	snprintf(place, sizeof place, "file:%s", rig_path(&r, "secret"));
	for (int key = 0; key < 2; key++) {
		struct fault f = {0};
		pid_t pid = fork();
		int status;

		if (!pid) {
			int rc = prctl(PR_SET_DUMPABLE, 1) ||
			         (key ? secret_path(place, "key", 0, path, &f)
			              : secret_read(place, "password", 0, secret, &f));

			_exit(rc || prctl(PR_GET_DUMPABLE) != 0);
		}
		assert_int_equal(waitpid(pid, &status, 0), pid);
		assert_int_equal(status, 0);
	}
}

static void wrong_names_are_refused(void **state)
{
	static const char *const wrong[] = {"", ".", "..", "a/b", "../4417.NC", "/etc/passwd",
	    "a\nb", "a\x7f", "a\x01", "a\xff", "a\xc0\xaf", "a\xed\xa0\x80", "a\xc2\x85",
	    ".yoke-1-upper.old",
	    /* each reaches another file where names are those of another system */
	    "..\\x", "a\\b", "x.", "x ", " x ", "x.. "};
	static const char *const right[] = {
	    "4417.NC", "O4417", " x", "..x", "\xc3\xbc.NC", "\xf0\x9f\x98\x80"};
	char longest[257];

	for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
		assert_false(place_name_ok(wrong[i]));
	for (size_t i = 0; i < sizeof right / sizeof *right; i++)
		assert_true(place_name_ok(right[i]));
	memset(longest, 'x', sizeof longest);
	longest[256] = '\0';
	assert_false(place_name_ok(longest));
	longest[255] = '\0';
	assert_true(place_name_ok(longest));

	strcpy(r.order.item[1].target, "../path1/4417.NC");
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 1);
	assert_int_equal(r.steps, 0);
	holds(OLD_UP, OLD_LO);
}

static void folders_do_not_lead_out(void **state)
{
	strcpy(r.order.item[0].line.directory.folder, "path1/../../");
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(symlink("path1", rig_path(&r, "share/link")), 0);
	strcpy(r.order.item[0].line.directory.folder, "link");
	rig_run(&r);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
}

/* A program's name that is a link, a folder or a pipe is not ours to replace. */
static void strange_targets_are_refused(void **state)
{
	const char *target = rig_path(&r, "share/path2/4417.NC");

	rig_write(&r, "elsewhere", OLD_LO);
	unlink(target);
	assert_int_equal(symlink(rig_path(&r, "elsewhere"), target), 0);
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_string_equal(rig_read(&r, "elsewhere"), OLD_LO);
	unlink(target);
	assert_int_equal(mkfifo(target, 0666), 0);
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	unlink(target);
	assert_int_equal(mkdir(target, 0777), 0);
	rig_run(&r);
	ended(CARRY_ERROR_NAME, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_string_equal(rig_read(&r, "share/path1/4417.NC"), OLD_UP);
	clean();
}

static void no_share_no_write(void **state)
{
	/* The mount is gone: the path is an empty folder, in which everything would work. */
	assert_int_equal(rename(rig_path(&r, "share"), rig_path(&r, "away")), 0);
	assert_int_equal(mkdir(rig_path(&r, "share"), 0777), 0);
	rig_run(&r);
	ended(CARRY_ERROR_MARKER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.steps, 0);
	assert_int_equal(rmdir(rig_path(&r, "share")), 0); /* still empty */
	rig_run(&r);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(rename(rig_path(&r, "away"), rig_path(&r, "share")), 0);
	/* The root is there, a channel's folder is not: it is never made. */
	strcpy(r.order.item[1].line.directory.folder, "path3");
	rig_run(&r);
	ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 1);
	assert_int_not_equal(access(rig_path(&r, "share/path3"), F_OK), 0);
	holds(OLD_UP, OLD_LO);
}

static void programs_are_checked_first(void **state)
{
	int fd;

	/* Another program than the order names. */
	r.order.item[1].want.b[0] ^= 1;
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.item, 1);
	r.order.item[1].want.b[0] ^= 1;
	/* Another size. */
	r.order.item[1].size++;
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	r.order.item[1].size--;
	/* Memory that could still change. */
	close(r.fd[1]);
	r.fd[1] = fd = memfd_create("open", MFD_CLOEXEC | MFD_ALLOW_SEALING);
	assert_int_equal(write(fd, NEW_LO, strlen(NEW_LO)), strlen(NEW_LO));
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_int_equal(r.steps, 0);
	holds(OLD_UP, OLD_LO);
	clean();
}

static void impossible_orders(void **state)
{
	r.order.item[1].line.kind = LINE_NONE;
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	r.order.item[0].line.kind = LINE_NONE;
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	r.order.item[0].line.kind = r.order.item[1].line.kind = LINE_DIRECTORY;
	strcpy(r.order.item[0].channel, "../up");
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	strcpy(r.order.item[0].channel, "lower");
	rig_run(&r);
	ended(CARRY_ERROR_ORDER, CARRY_HELD_OLD, CARRY_HELD_OLD);
}

static void garbage_instead_of_an_order(void **state)
{
	rig_start(&r);
	assert_int_equal(write(r.sock, "garbage", 7), 7);
	assert_false(rig_talk(&r));
	assert_true(WIFEXITED(r.status));
	assert_int_equal(WEXITSTATUS(r.status), 1);
	rig_start(&r);
	close(r.sock);
	r.sock = -1;
	assert_false(rig_talk(&r));
	assert_int_equal(WEXITSTATUS(r.status), 1);
}

static void names_of_left_overs(void **state)
{
	static const char *const strange[] = {".yoke-12-.old", ".yoke-12.old", ".yoke--1-a.old",
	    ".yoke-99999999999999999999-a.old", "yoke", ".yoke-12.1234567-a.part",
	    ".yoke-12.123456789-a.part", ".yoke-12.1234567g-a.part", "..yoke-12-a.old",
	    ".yoke-12-a.txt", ".yoke-12.0000001f-.old"};
	char name[LEFTOVER_NAME], channel[YOKE_NAME_MAX + 1];
	struct leftover l;

	memset(channel, 'x', YOKE_NAME_MAX);
	channel[YOKE_NAME_MAX] = '\0';
	leftover_name(name, ".", UINT64_MAX, UINT32_MAX, channel, LEFTOVER_NONE);
	assert_int_equal(strlen(name), LEFTOVER_NAME - 1);
	assert_true(leftover_parse(name, &l));
	assert_int_equal(l.kind, LEFTOVER_NONE);
	assert_true(l.order == UINT64_MAX);
	assert_true(leftover_of(&l, channel));
	assert_string_equal(l.name, name);
	leftover_name(name, "", 12, 0x1f, "a.old", LEFTOVER_PART);
	assert_string_equal(name, "yoke-12.0000001f-a.old.part");
	assert_true(leftover_parse(name, &l));
	assert_int_equal(l.kind, LEFTOVER_PART);
	assert_int_equal(l.order, 12);
	assert_true(leftover_of(&l, "a.old"));
	assert_false(leftover_of(&l, "a"));
	assert_false(leftover_of(&l, "a.old.part"));
	assert_true(leftover_parse(".yoke-12-a-b.old", &l));
	assert_true(leftover_of(&l, "a-b"));
	for (size_t i = 0; i < sizeof strange / sizeof *strange; i++)
		if (leftover_parse(strange[i], &l))
			fail_msg("%s is none of ours", strange[i]);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(one_name_in_one_folder_is_refused),
	    T(no_core_holds_a_secret),
	    T(wrong_names_are_refused),
	    T(folders_do_not_lead_out),
	    T(strange_targets_are_refused),
	    T(no_share_no_write),
	    T(names_of_left_overs),
	    T(programs_are_checked_first),
	    T(impossible_orders),
	    T(garbage_instead_of_an_order),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
