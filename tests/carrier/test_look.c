/*
 * Goal: what is changed on a share between orders is found, by size and times or else by its bytes,
 * and told once; what only looks changed is not told; a share that is away is neither empty nor told
 * as changed; and nothing is written.
 */
#include <fcntl.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>
#include "share_case.h"

static unsigned away, there;

static void told(struct rig *k, const struct carry_progress *p)
{
	away += p->phase == CARRY_PHASE_AWAY;
	there += p->phase == CARRY_PHASE_LISTEN;
}

static void (*script)(void);
static unsigned after_ms; /* from the script to stop */

enum { SEEN_MS = 2700 }; /* in which a change was seen twice, and told */

static void pause_ms(unsigned ms)
{
	usleep(ms * 1000);
}

static void *play(void *arg)
{
	pause_ms(400);
	script();
	pause_ms(after_ms);
	message_send(r.sock, CARRY_CANCEL, NULL, NULL, 0, 0);
	return NULL;
}

static void look_for(void (*what)(void), unsigned ms)
{
	pthread_t thread;

	script = what;
	after_ms = ms;
	away = there = 0;
	r.order.act = CARRY_LISTEN;
	r.order.look_ms = 100;
	r.on_progress = told;
	rig_expect(&r, 0, OLD_UP);
	rig_expect(&r, 1, OLD_LO);
	rig_start(&r);
	rig_send_order(&r);
	assert_int_equal(pthread_create(&thread, NULL, play, NULL), 0);
	rig_talk(&r);
	pthread_join(thread, NULL);
	assert_true(r.has_outcome);
	assert_int_equal(r.outcome.error, CARRY_ERROR_CANCELLED);
	assert_int_equal(r.steps, 0);
	clean();
}

static void look_while(void (*what)(void))
{
	look_for(what, SEEN_MS);
}

static void content(unsigned i, uint32_t item, enum carry_role role, const char *text)
{
	assert_true(r.contents > i);
	assert_int_equal(r.content[i].head.item, item);
	assert_int_equal(r.content[i].head.role, role);
	if (text)
		assert_string_equal(r.content[i].text, text);
}

static void nothing(void)
{
}

static void unchanged(void **state)
{
	look_while(nothing);
	assert_int_equal(r.contents, 0);
	assert_int_equal(there, 1);
	assert_int_equal(away, 0);
}

/* In place and at once: a look must never meet half of it. */
static void write_over(const char *below, const char *text)
{
	int fd = open(rig_path(&r, below), O_WRONLY | O_CLOEXEC);

	assert_int_equal(pwrite(fd, text, strlen(text), 0), strlen(text));
	close(fd);
}

/* Written over in place, with the same size and the same time of the last change. */
static void edits(void)
{
	static const char edited[] = "%\nO4417(JOB 4417 REV B UPPER)\nG0X41.\nM30\n%\n";
	struct timespec times[2];
	struct stat st;

	assert_int_equal(strlen(edited), strlen(OLD_UP));
	assert_int_equal(stat(rig_path(&r, "share/path1/4417.NC"), &st), 0);
	write_over("share/path1/4417.NC", edited);
	times[0] = times[1] = st.st_mtim;
	utimensat(0, rig_path(&r, "share/path1/4417.NC"), times, 0);
	pause_ms(SEEN_MS);
	write_over("share/path1/4417.NC", OLD_UP);
}

static void an_edit(void **state)
{
	look_while(edits);
	assert_int_equal(r.contents, 2);
	content(0, 0, CARRY_ROLE_UNASKED, NULL);
	assert_non_null(strstr(r.content[0].text, "X41."));
	content(1, 0, CARRY_ROLE_UNASKED, OLD_UP);
}

static void edits_once(void)
{
	write_over("share/path1/4417.NC", "%\nO4417(JOB 4417 REV B UPPER)\nG0X41.\nM30\n%\n");
}

/*
 * A control's own clock has lost its battery: every file is of 1980. An edit of the same length was taken for
 * the program that was read a moment before, since its time was long ago by our clock; and was never told.
 */
static void a_clock_that_stands(void **state)
{
	setenv("LD_PRELOAD", SHARE_SHIM, 1);
	setenv("ASAN_OPTIONS", "verify_asan_link_order=0", 1);
	setenv("YOKE_TEST_CLOCK", "1", 1);
	look_while(edits_once);
	unsetenv("YOKE_TEST_CLOCK");
	unsetenv("LD_PRELOAD");
	assert_int_equal(r.contents, 1);
	content(0, 0, CARRY_ROLE_UNASKED, NULL);
	assert_non_null(strstr(r.content[0].text, "X41."));
}

/* Copied anew, byte for byte: another file, and nothing to tell. */
static void copies(void)
{
	rig_write(&r, "share/path2/new", OLD_LO);
	rename(rig_path(&r, "share/path2/new"), rig_path(&r, "share/path2/4417.NC"));
}

static void a_copy(void **state)
{
	look_while(copies);
	assert_int_equal(r.contents, 0);
}

static void removes(void)
{
	unlink(rig_path(&r, "share/path2/4417.NC"));
	pause_ms(SEEN_MS);
	rig_write(&r, "share/path2/4417.NC", OLD_LO);
}

static void gone_and_back(void **state)
{
	look_while(removes);
	assert_int_equal(r.contents, 2);
	content(0, 1, CARRY_ROLE_GONE, "");
	content(1, 1, CARRY_ROLE_UNASKED, OLD_LO);
}

/* Changed before anybody looked. */
static void changed_before(void **state)
{
	rig_write(&r, "share/path1/4417.NC", NEW_UP);
	look_while(nothing);
	assert_int_equal(r.contents, 1);
	content(0, 0, CARRY_ROLE_UNASKED, NEW_UP);
}

/* The mount goes: what is left is an empty folder without a marker. */
static void unmounts(void)
{
	rename(rig_path(&r, "share"), rig_path(&r, "server"));
	mkdir(rig_path(&r, "share"), 0777);
	mkdir(rig_path(&r, "share/path1"), 0777);
	mkdir(rig_path(&r, "share/path2"), 0777);
	pause_ms(500);
	rmdir(rig_path(&r, "share/path1"));
	rmdir(rig_path(&r, "share/path2"));
	rmdir(rig_path(&r, "share"));
	pause_ms(300);
	rename(rig_path(&r, "server"), rig_path(&r, "share"));
}

static void away_is_not_empty(void **state)
{
	look_while(unmounts);
	assert_int_equal(r.contents, 0);
	assert_int_equal(away, 1);
	assert_int_equal(there, 2);
}

/* Saved anew with the same text, in two halves: half of it was told as drift. */
static void saves(void)
{
	char half[20] = "";
	int fd;

	memcpy(half, OLD_UP, sizeof half - 1);
	rig_write(&r, "share/path1/4417.NC", half);
	pause_ms(900);
	fd = open(rig_path(&r, "share/path1/4417.NC"), O_WRONLY | O_APPEND | O_CLOEXEC);
	assert_int_equal(write(fd, &OLD_UP[sizeof half - 1], strlen(OLD_UP) - sizeof half + 1),
	    strlen(OLD_UP) - sizeof half + 1);
	close(fd);
}

static void half_saved(void **state)
{
	look_while(saves);
	assert_int_equal(r.contents, 0);
	assert_int_equal(away, 0);
}

/* Stop comes in the middle of a look, since an order is to begin: the share was told as away. */
static void changes(void)
{
	write_over("share/path1/4417.NC", NEW_UP);
}

static void stopped_in_a_look(void **state)
{
	look_for(changes, 600);
	assert_int_equal(r.contents, 0);
	assert_int_equal(away, 0);
}

/* An order of another machine works in the same folder: that is no reason not to look, and the share is
 * not away; a look holds no order up either. It did both. */
static void locks(void)
{
	int fd = open(rig_path(&r, "share/path1"), O_RDONLY | O_DIRECTORY | O_CLOEXEC);

	for (int i = 0; i < 100; i++) {
		assert_int_equal(flock(fd, LOCK_EX | LOCK_NB), 0);
		pause_ms(5);
		flock(fd, LOCK_UN);
	}
	close(fd);
}

static void beside_an_order(void **state)
{
	look_for(locks, 200);
	assert_int_equal(r.contents, 0);
	assert_int_equal(away, 0);
	assert_int_equal(there, 1);
}

#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
	const struct CMUnitTest tests[] = {
	    T(unchanged),
	    T(an_edit),
	    T(a_clock_that_stands),
	    T(a_copy),
	    T(gone_and_back),
	    T(changed_before),
	    T(away_is_not_empty),
	    T(half_saved),
	    T(stopped_in_a_look),
	    T(beside_an_order),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
