/*
 * Goal: over a directory the machine ends with both new programs, or with both old ones, and the
 * outcome says which; with every fault made real: full disk, taken name, lost share, changed file,
 * a parent that refuses or goes away.
 */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include "share_case.h"

static void both_are_replaced(void **state)
{
	static const struct carry_step steps[] = {
	    {CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 0}, {CARRY_STEP_REPLACE, 1}};

	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
	assert_int_equal(r.steps, 3);
	assert_memory_equal(r.step, steps, sizeof steps);
	/* The old programs came before anything else. */
	assert_int_equal(r.contents, 2);
	for (uint32_t i = 0; i < 2; i++) {
		struct sha old = rig_sha(i ? OLD_LO : OLD_UP);

		assert_int_equal(r.content[i].head.role, CARRY_ROLE_OLD);
		assert_int_equal(r.content[i].head.item, i);
		assert_string_equal(r.content[i].text, i ? OLD_LO : OLD_UP);
		assert_memory_equal(&r.content[i].head.sha, &old, sizeof old);
		assert_int_equal(r.outcome.channel[i].compared, 1);
		assert_memory_equal(&r.outcome.channel[i].sha, &r.order.item[i].want, sizeof old);
	}
}

static void a_first_pair_needs_no_old_one(void **state)
{
	unlink(rig_path(&r, "share/path1/4417.NC"));
	unlink(rig_path(&r, "share/path2/4417.NC"));
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
	assert_int_equal(r.contents, 0);
}

static void one_folder_for_both(void **state)
{
	rig_directory(&r, 1, "path1", "4417L.NC");
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_string_equal(rig_read(&r, "share/path1/4417.NC"), NEW_UP);
	assert_string_equal(rig_read(&r, "share/path1/4417L.NC"), NEW_LO);
	clean();
}

/* Which step the next tests act at. */
static struct carry_step at;
static enum rig_answer there;

static enum rig_answer act_at(struct rig *rig, const struct carry_step *s)
{
	return s->step == at.step && s->item == at.item ? there : RIG_GO;
}

static enum rig_answer share_goes(struct rig *rig, const struct carry_step *s)
{
	if (s->step == at.step && s->item == at.item) {
		assert_int_equal(rename(rig_path(&r, "share"), rig_path(&r, "away")), 0);
		assert_int_equal(mkdir(rig_path(&r, "share"), 0777), 0);
	}
	return RIG_GO;
}

static void the_share_goes_during_the_order(void **state)
{
	static const struct carry_step when[] = {
	    {CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 0}, {CARRY_STEP_REPLACE, 1}};

	for (size_t i = 0; i < 3; i++) {
		at = when[i];
		r.on_step = share_goes;
		rig_run(&r);
		ended(CARRY_ERROR_OFFLINE, CARRY_HELD_OLD, CARRY_HELD_OLD);
		assert_int_equal(rmdir(rig_path(&r, "share")), 0); /* nothing was written into it */
		assert_int_equal(rename(rig_path(&r, "away"), rig_path(&r, "share")), 0);
		holds(OLD_UP, OLD_LO);
		clean();
	}
}

static enum rig_answer take_the_name(struct rig *rig, const struct carry_step *s)
{
	const char *target = rig_path(&r, "share/path2/4417.NC");

	if (s->step == CARRY_STEP_REPLACE && s->item == 1) {
		unlink(target);
		assert_int_equal(mkdir(target, 0777), 0);
	}
	return RIG_GO;
}

/* Case "rename refused": the second name cannot be taken; the first program is put back. */
static void second_rename_fails(void **state)
{
	r.on_step = take_the_name;
	rig_run(&r);
	assert_true(r.has_outcome);
	assert_int_not_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_OLD);
	assert_int_equal(r.step[r.steps - 1].step, CARRY_STEP_PUT_BACK);
	assert_string_equal(rig_read(&r, "share/path1/4417.NC"), OLD_UP);
	clean();
}

/* The same where there was no old program: it is removed again. */
static void second_rename_fails_first_pair(void **state)
{
	unlink(rig_path(&r, "share/path1/4417.NC"));
	r.on_step = take_the_name;
	rig_run(&r);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_OLD);
	assert_int_equal(r.outcome.channel[0].has_sha, 0); /* nothing, as before */
	assert_null(rig_read(&r, "share/path1/4417.NC"));
	clean();
}

static enum rig_answer edit_lower(struct rig *rig, const struct carry_step *s)
{
	if (s->step == CARRY_STEP_REPLACE && s->item == 1)
		rig_write(&r, "share/path2/4417.NC", "edited at the machine");
	return RIG_GO;
}

static void an_edit_meanwhile_is_not_lost(void **state)
{
	r.on_step = edit_lower;
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	holds(OLD_UP, "edited at the machine");
	assert_int_equal(r.contents, 3);
	assert_string_equal(r.content[2].text, "edited at the machine");
	clean();
}

static enum rig_answer edit_upper(struct rig *rig, const struct carry_step *s)
{
	if (s->step == CARRY_STEP_REPLACE && s->item == 0)
		rig_write(&r, "share/path1/4417.NC", "edited at the machine");
	return RIG_GO;
}

/* The same with the program that comes first: nothing had been replaced yet, so nobody looked, the machine was
 * said to hold its old pair, and the next try took the edit away again. What was met is handed over. */
static void an_edit_of_the_first_is_told(void **state)
{
	r.on_step = edit_upper;
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_OTHER, CARRY_HELD_OLD);
	holds("edited at the machine", OLD_LO);
	assert_int_equal(r.contents, 3);
	assert_int_equal(r.content[2].head.role, CARRY_ROLE_COPY);
	assert_string_equal(r.content[2].text, "edited at the machine");
	assert_non_null(strstr(r.outcome.text, "changed by somebody else"));
	assert_non_null(strstr(r.outcome.text, "nothing was changed"));
	clean();
}

static enum rig_answer edit_the_new_upper(struct rig *rig, const struct carry_step *s)
{
	if (s->step == CARRY_STEP_REPLACE && s->item == 1)
		rig_write(&r, "share/path1/4417.NC", "edited at the machine");
	return s->step == CARRY_STEP_REPLACE && s->item == 1 ? RIG_REFUSE : RIG_GO;
}

/* The order breaks off after the operator has changed the program that was put there first: when
 * the old one went over it, his work was gone. */
static void an_edit_of_the_new_one_is_not_lost(void **state)
{
	r.on_step = edit_the_new_upper;
	rig_run(&r);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	assert_int_equal(r.contents, 3);
	assert_int_equal(r.content[2].head.role, CARRY_ROLE_OLD);
	assert_int_equal(r.content[2].head.item, 0);
	assert_string_equal(r.content[2].text, "edited at the machine");
	clean();
}

static int editor = -1; /* a program that somebody has open at the machine */

static enum rig_answer write_late(struct rig *rig, const struct carry_step *s)
{
	static const char more[] = "(ONE MORE CUT)\n";

	if (s->step == CARRY_STEP_WRITE)
		editor = open(rig_path(rig, "share/path1/4417.NC"), O_WRONLY | O_APPEND | O_CLOEXEC);
	if (s->step == CARRY_STEP_REPLACE && s->item == 1) {
		assert_int_equal(write(editor, more, sizeof more - 1), sizeof more - 1);
		close(editor);
	}
	return RIG_GO;
}

/* Somebody at the machine saves into the old program just after it was replaced: it lay beside under its
 * second name, and was removed with what he had written. */
static void an_edit_of_the_old_one_is_not_lost(void **state)
{
	r.on_step = write_late;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	assert_int_equal(r.contents, 3);
	assert_int_equal(r.content[2].head.role, CARRY_ROLE_OLD);
	assert_int_equal(r.content[2].head.item, 0);
	assert_string_equal(r.content[2].text, OLD_UP "(ONE MORE CUT)\n");
	assert_non_null(strstr(r.outcome.text, "upper: somebody wrote into the old program"));
	clean();
}

/* The temporaries of an order could not be removed since its share was gone. Tried again, it met
 * its own files (EEXIST), each time anew. */
static void the_second_try_of_an_order(void **state)
{
	char part[64], old[64];

	snprintf(
	    part, sizeof part, "share/path1/.yoke-%llu-upper.part", (unsigned long long)r.order.id);
	snprintf(
	    old, sizeof old, "share/path2/.yoke-%llu-lower.old", (unsigned long long)r.order.id);
	rig_write(&r, part, "stump");
	rig_write(&r, old, OLD_LO);
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
}

static enum rig_answer move_the_folder(struct rig *rig, const struct carry_step *s)
{
	if (s->step == at.step && s->item == at.item) {
		assert_int_equal(
		    rename(rig_path(&r, "share/path2"), rig_path(&r, "share/moved")), 0);
		assert_int_equal(mkdir(rig_path(&r, "share/path2"), 0777), 0);
		rig_write(&r, "share/path2/4417.NC", OLD_LO);
	}
	return RIG_GO;
}

/* Somebody moves a channel's folder away during the order, and puts another in its place: the new
 * programs lay in the moved one and the machine was said to hold them. */
static void a_folder_that_was_moved(void **state)
{
	static const struct carry_step when[] = {{CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 1}};

	for (size_t i = 0; i < 2; i++) {
		at = when[i];
		r.on_step = move_the_folder;
		rig_run(&r);
		assert_int_equal(r.outcome.error, CARRY_ERROR_OFFLINE);
		assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_OLD);
		assert_int_not_equal(r.outcome.channel[1].held, CARRY_HELD_NEW);
		holds(OLD_UP, OLD_LO);
		assert_string_equal(rig_read(&r, "share/moved/4417.NC"), OLD_LO);
		assert_int_equal(unlink(rig_path(&r, "share/moved/4417.NC")), 0);
		assert_int_equal(rig_leftovers(&r, "share/moved"), 0);
		assert_int_equal(rmdir(rig_path(&r, "share/moved")), 0);
	}
}

/* A program was deleted at the machine, and the order did not go through: the machine was said to
 * hold what it held before. */
static void what_was_deleted_is_not_held(void **state)
{
	unlink(rig_path(&r, "share/path1/4417.NC"));
	rig_expect(&r, 0, OLD_UP);
	rig_expect(&r, 1, OLD_LO);
	at = (struct carry_step){CARRY_STEP_REPLACE, 1};
	there = RIG_REFUSE;
	r.on_step = act_at;
	rig_run(&r);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_ABSENT, CARRY_HELD_OLD);
	holds(NULL, OLD_LO);
	at = (struct carry_step){CARRY_STEP_WRITE, 2};
	rig_run(&r);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_ABSENT, CARRY_HELD_OLD);
}

static void refused_and_cancelled_steps(void **state)
{
	static const struct carry_step when[] = {
	    {CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 0}, {CARRY_STEP_REPLACE, 1}};
	static const enum rig_answer how[] = {RIG_REFUSE, RIG_CANCEL, RIG_TERM};

	for (size_t i = 0; i < 3; i++)
		for (size_t k = 0; k < 3; k++) {
			at = when[i];
			there = how[k];
			r.on_step = act_at;
			rig_run(&r);
			ended(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
			holds(OLD_UP, OLD_LO);
			clean();
		}
}

/* The parent is gone: what was begun is put right, nothing is begun. */
static void the_parent_goes(void **state)
{
	static const struct carry_step when[] = {
	    {CARRY_STEP_WRITE, 2}, {CARRY_STEP_REPLACE, 0}, {CARRY_STEP_REPLACE, 1}};

	for (size_t i = 0; i < 3; i++) {
		at = when[i];
		there = RIG_HANG_UP;
		r.on_step = act_at;
		assert_false(rig_run(&r));
		assert_true(WIFEXITED(r.status));
		holds(OLD_UP, OLD_LO);
		clean();
	}
}

static enum rig_answer no_put_back(struct rig *rig, const struct carry_step *s)
{
	return s->step == CARRY_STEP_PUT_BACK ? RIG_REFUSE : take_the_name(rig, s);
}

static enum rig_answer refuse_the_third(struct rig *rig, const struct carry_step *s)
{
	return s->step == CARRY_STEP_REPLACE && s->item == 2 ? RIG_REFUSE : RIG_GO;
}

/* Three channels: when the third is not replaced, the first two go back. */
static void three_channels(void **state)
{
	r.order.items = 3;
	strcpy(r.order.item[2].channel, "third");
	rig_directory(&r, 2, "path1", "4417-3.NC");
	rig_write(&r, "share/path1/4417-3.NC", "old third");
	rig_program(&r, 2, "new third");
	r.on_step = refuse_the_third;
	rig_run(&r);
	assert_int_equal(r.outcome.error, CARRY_ERROR_CANCELLED);
	holds(OLD_UP, OLD_LO);
	assert_string_equal(rig_read(&r, "share/path1/4417-3.NC"), "old third");
	clean();
	r.on_step = NULL;
	rig_run(&r);
	assert_int_equal(r.outcome.error, CARRY_ERROR_NONE);
	holds(NEW_UP, NEW_LO);
	assert_string_equal(rig_read(&r, "share/path1/4417-3.NC"), "new third");
	clean();
}

static void a_mixed_machine_says_so(void **state)
{
	r.on_step = no_put_back;
	rig_run(&r);
	assert_int_equal(r.outcome.channel[0].held, CARRY_HELD_NEW);
	assert_int_not_equal(r.outcome.error, CARRY_ERROR_NONE);
	assert_string_equal(rig_read(&r, "share/path1/4417.NC"), NEW_UP);
	assert_true(
	    rig_leftovers(&r, "share/path1") > 0); /* what is needed to put it right is there */
	/* ... and puts it right. */
	assert_int_equal(rmdir(rig_path(&r, "share/path2/4417.NC")), 0);
	rig_write(&r, "share/path2/4417.NC", OLD_LO);
	r.on_step = NULL;
	r.order.act = CARRY_INSPECT;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
}

/* A disk of 64 KiB that is full after the upper program. Needs the right to mount, which CI's root
 * has. */
static void full_disk(void **state)
{
	const char *disk = rig_path(&r, "share/path2");
	static char big[70000];
	struct sha sum;

	if (mount("yoke-test", disk, "tmpfs", 0, "size=64k")) {
		print_message("no right to mount: not tried\n");
		skip();
	}
	rig_write(&r, "share/path2/4417.NC", OLD_LO);
	memset(big, 'X', sizeof big - 1);
	rig_program(&r, 1, big);
	rig_run(&r);
	sum = rig_sha(OLD_LO);
	rig_read(&r, "share/path2/4417.NC");
	bool kept = !strcmp(rig_read(&r, "share/path2/4417.NC"), OLD_LO);
	int left = rig_leftovers(&r, "share/path2");
	umount(disk);
	ended(CARRY_ERROR_SPACE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_memory_equal(&r.outcome.channel[1].sha, &sum, sizeof sum);
	assert_true(kept);
	assert_int_equal(left, 0);
	assert_string_equal(rig_read(&r, "share/path1/4417.NC"), OLD_UP);
}

static void left_overs_of_others(void **state)
{
	/* A stump and an old program of an earlier order, an old program of a later one, and files
	 * that are not ours. */
	rig_write(&r, "share/path1/.yoke-3-upper.part", "stump");
	rig_write(&r, "share/path2/.yoke-3-lower.old", "old");
	rig_write(&r, "share/path2/.yoke-999999-lower.old", "needed");
	rig_write(&r, "share/path2/.yoke-readme", "not ours");
	rig_write(&r, "share/path2/.yoke-3-lower.txt", "not ours");
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(r.step[0].step, CARRY_STEP_TIDY);
	assert_null(rig_read(&r, "share/path1/.yoke-3-upper.part"));
	assert_null(rig_read(&r, "share/path2/.yoke-3-lower.old"));
	assert_string_equal(rig_read(&r, "share/path2/.yoke-999999-lower.old"), "needed");
	assert_int_equal(rig_leftovers(&r, "share/path2"), 3);
}

static void fetch(void **state)
{
	r.order.act = CARRY_FETCH;
	rig_expect(&r, 0, OLD_UP);
	rig_expect(&r, 1, "something else");
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OTHER);
	assert_int_equal(r.steps, 0);
	assert_int_equal(r.contents, 2);
	assert_int_equal(r.content[1].head.role, CARRY_ROLE_COPY);
	assert_string_equal(r.content[1].text, OLD_LO);
	unlink(rig_path(&r, "share/path2/4417.NC"));
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_ABSENT);
	assert_int_equal(r.contents, 1);
}

static enum rig_answer slow(struct rig *rig, const struct carry_step *s)
{
	if (s->step == CARRY_STEP_WRITE)
		usleep(2200 * 1000);
	return RIG_GO;
}

/* While it waits for a grant, a heartbeat comes at least every CARRY_HEARTBEAT_MS. */
static void heartbeats(void **state)
{
	unsigned without;

	rig_run(&r);
	without = r.progresses;
	rig_write(&r, "share/path1/4417.NC", OLD_UP);
	r.on_step = slow;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_true(r.progresses >= without + 2200 / CARRY_HEARTBEAT_MS);
}

static enum rig_answer second_order(struct rig *rig, const struct carry_step *s)
{
	static struct rig other;

	if (s->step != CARRY_STEP_WRITE)
		return RIG_GO;
	other = r;
	other.order.id++;
	other.on_step = NULL;
	rig_run(&other);
	assert_true(other.has_outcome);
	assert_int_equal(other.outcome.error, CARRY_ERROR_BUSY);
	return RIG_GO;
}

static void one_order_per_folder(void **state)
{
	r.on_step = second_order;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
}

static void modes_are_kept(void **state)
{
	struct stat st;

	chmod(rig_path(&r, "share/path1/4417.NC"), 0640);
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_int_equal(stat(rig_path(&r, "share/path1/4417.NC"), &st), 0);
	assert_int_equal(st.st_mode & 0777, 0640);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    T(both_are_replaced),
	    T(a_first_pair_needs_no_old_one),
	    T(one_folder_for_both),
	    T(the_share_goes_during_the_order),
	    T(second_rename_fails),
	    T(second_rename_fails_first_pair),
	    T(an_edit_meanwhile_is_not_lost),
	    T(an_edit_of_the_first_is_told),
	    T(an_edit_of_the_new_one_is_not_lost),
	    T(an_edit_of_the_old_one_is_not_lost),
	    T(the_second_try_of_an_order),
	    T(a_folder_that_was_moved),
	    T(what_was_deleted_is_not_held),
	    T(refused_and_cancelled_steps),
	    T(the_parent_goes),
	    T(three_channels),
	    T(a_mixed_machine_says_so),
	    T(full_disk),
	    T(left_overs_of_others),
	    T(fetch),
	    T(heartbeats),
	    T(one_order_per_folder),
	    T(modes_are_kept),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
