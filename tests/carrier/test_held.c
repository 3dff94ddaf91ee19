/*
 * Goal: a mounted share that refuses to replace a program: one that somebody holds open is busy, one that
 * may not be changed is refused, one that is full says so at the end of writing, and a share that replaces nothing at all gets its program by removing the
 * old one first. The pair stays whole in each.
 */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include "share_case.h"

static int set_up_held(void **state)
{
	set_up(state);
	strcpy(r.order.item[1].target, "4418.NC");
	rig_write(&r, "share/path2/4418.NC", OLD_LO);
	setenv("LD_PRELOAD", SHARE_SHIM, 1);
	setenv("ASAN_OPTIONS", "verify_asan_link_order=0", 1);
	return 0;
}

static int tear_down_held(void **state)
{
	unsetenv("LD_PRELOAD");
	unsetenv("YOKE_TEST_HELD");
	unsetenv("YOKE_TEST_REPLACES_NOT");
	unsetenv("YOKE_TEST_FULL");
	return tear_down(state);
}

static void machine_holds(const char *up, const char *lo)
{
	holds(up, OLD_LO);
	assert_string_equal(rig_read(&r, "share/path2/4418.NC"), lo);
	clean();
}

/*
 * The second program of the pair is refused: the first goes back. A program that a control held open over
 * the old dialect of SMB gave "File exists", which was told as an error of reading or writing: a setter
 * looked for a broken cable where closing the program at the control was enough.
 */
static void each_refusal_has_its_name(void **state)
{
	static const struct {
		int e;
		enum carry_error error;
	} refusals[] = {{EEXIST, CARRY_ERROR_BUSY}, {EBUSY, CARRY_ERROR_BUSY},
	    {ETXTBSY, CARRY_ERROR_BUSY}, {EACCES, CARRY_ERROR_REFUSED},
	    {EPERM, CARRY_ERROR_REFUSED}, {EROFS, CARRY_ERROR_REFUSED},
	    {ENOSPC, CARRY_ERROR_SPACE}, {EDQUOT, CARRY_ERROR_SPACE}};
	char held[32];

	for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
		snprintf(held, sizeof held, "4418.NC=%d", refusals[i].e);
		setenv("YOKE_TEST_HELD", held, 1);
		rig_run(&r);
		ended(refusals[i].error, CARRY_HELD_OLD, CARRY_HELD_OLD);
		assert_non_null(strstr(r.outcome.text, "'4418.NC' of channel lower"));
		assert_non_null(strstr(r.outcome.text, "the old programs were put back"));
		machine_holds(OLD_UP, OLD_LO);
	}
	unsetenv("YOKE_TEST_HELD");
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	machine_holds(NEW_UP, NEW_LO);
}

static void one_that_replaces_nothing(void **state)
{
	setenv("YOKE_TEST_REPLACES_NOT", "1", 1);
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_non_null(strstr(r.outcome.text, "the share replaces no file that is there: upper was away for"));
	assert_non_null(strstr(r.outcome.text, "lower was away for"));
	machine_holds(NEW_UP, NEW_LO);
}

static enum rig_answer not_the_second(struct rig *rig, const struct carry_step *s)
{
	return s->step == CARRY_STEP_REPLACE && s->item == 1 ? RIG_REFUSE : RIG_GO;
}

static void one_that_replaces_nothing_and_goes_back(void **state)
{
	setenv("YOKE_TEST_REPLACES_NOT", "1", 1);
	r.on_step = not_the_second;
	rig_run(&r);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	machine_holds(OLD_UP, OLD_LO);
}

/*
 * A network's file system may say only at the end that the disk is full. Both programs were open then, and
 * what is open is not removed from such shares: parts of a program lay there for ever.
 */
static void full_at_the_end(void **state)
{
	setenv("YOKE_TEST_FULL", "10", 1);
	rig_run(&r);
	ended(CARRY_ERROR_SPACE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	assert_non_null(strstr(r.outcome.text, "nothing was changed"));
	assert_null(strstr(r.outcome.text, "could not be removed"));
	machine_holds(OLD_UP, OLD_LO);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up_held, tear_down_held)
	const struct CMUnitTest tests[] = {
	    T(each_refusal_has_its_name),
	    T(full_at_the_end),
	    T(one_that_replaces_nothing),
	    T(one_that_replaces_nothing_and_goes_back),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
