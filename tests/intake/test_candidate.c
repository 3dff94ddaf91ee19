/*
 * Goal: whether a file has arrived is decided by its states, its end mark and our own clock alone,
 * as in the cases "partial file picked up" and "clocks", with the pauses of those cases at full
 * length.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include "candidate.h"

#define SECOND INT64_C(1000000000)
#define EPOCH (INT64_C(1700000000) * SECOND)

static const struct candidate_rules rules = {.settle_ms = 3000, .incomplete_ms = 60000};

static struct candidate_clock at(uint64_t ms)
{
	return (struct candidate_clock){ms, EPOCH + 1 + (int64_t)ms * 1000000};
}

/* The file as it was last written at loop time ms. */
static struct intake_state file_of(uint64_t size, uint64_t ms)
{
	int64_t t = EPOCH + 1 + (int64_t)ms * 1000000;

	return (struct intake_state){
	    .dev = 1, .ino = 2, .size = size, .mtime_ns = t, .ctime_ns = t};
}

static enum candidate_step look(
    struct candidate *c, struct intake_state s, enum candidate_cue cue, uint64_t ms)
{
	struct candidate_clock now = at(ms);

	return candidate_look(c, &s, cue, &now, &rules);
}

static enum candidate_step read_it(
    struct candidate *c, struct intake_state s, bool marked, uint64_t ms)
{
	struct candidate_clock now = at(ms);

	return candidate_read(c, &s, marked, &now, &rules);
}

static void closed_with_end_mark_arrives_at_once(void **state)
{
	struct candidate c = {0};
	struct intake_state s = file_of(4200, 100);

	(void)state;
	assert_int_equal(look(&c, s, CANDIDATE_CLOSED, 100), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 100), CANDIDATE_HAND_OVER);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 101), CANDIDATE_REST);
	assert_int_equal(look(&c, s, CANDIDATE_FOUND, 102), CANDIDATE_REST);
}

/* 1,800 of 4,200 bytes, 3 s, the rest but 10 bytes, 20 s, the end; polled every 2 s. */
static void partial_file_polled(void **state)
{
	struct candidate c = {0};
	int handed = 0;

	(void)state;
	for (uint64_t ms = 0; ms < 60000; ms += 2000) {
		struct intake_state s = ms < 3000    ? file_of(1800, 0)
		                        : ms < 23000 ? file_of(4190, 3000)
		                                     : file_of(4200, 23000);

		if (look(&c, s, CANDIDATE_POLLED, ms) != CANDIDATE_READ)
			continue;
		enum candidate_step step = read_it(&c, s, s.size == 4200, ms);
		assert_int_not_equal(step, CANDIDATE_INCOMPLETE);
		if (step == CANDIDATE_HAND_OVER) {
			assert_int_equal(s.size, 4200);
			assert_true(ms >= 26000);
			handed++;
		}
	}
	assert_int_equal(handed, 1);
}

static void without_end_mark_it_waits_then_comes_flagged(void **state)
{
	struct candidate c = {0};
	struct intake_state s = file_of(0, 1000), longer = file_of(30, 90000);

	(void)state;
	assert_int_equal(look(&c, s, CANDIDATE_CLOSED, 1000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, false, 1000), CANDIDATE_WAIT);
	assert_int_equal(c.due_ms, 61000);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 60999), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, false, 60999), CANDIDATE_WAIT);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 61000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, false, 61000), CANDIDATE_INCOMPLETE);
	assert_int_equal(look(&c, s, CANDIDATE_RESCAN, 70000), CANDIDATE_REST);
	assert_int_equal(look(&c, longer, CANDIDATE_CLOSED, 90000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, longer, true, 90000), CANDIDATE_HAND_OVER);
}

/* A file found by a scan: old ones at once, fresh ones must be quiet; when polled, age counts for
 * nothing. */
static void found_files_must_be_old_or_quiet(void **state)
{
	struct candidate a = {0}, b = {0}, c = {0};
	struct intake_state s = file_of(100, 0);

	(void)state;
	assert_int_equal(look(&a, s, CANDIDATE_RESCAN, 3000), CANDIDATE_READ);
	assert_int_equal(look(&b, s, CANDIDATE_RESCAN, 2999), CANDIDATE_WAIT);
	assert_int_equal(b.due_ms, 5999);
	assert_int_equal(look(&b, s, CANDIDATE_TIMER, 3001), CANDIDATE_READ);
	assert_int_equal(look(&c, s, CANDIDATE_POLLED, 100000), CANDIDATE_WAIT);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 102999), CANDIDATE_WAIT);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 103000), CANDIDATE_READ);
}

/* Case "clocks": 40 minutes in the future settles by our own clock; an hour older is a state of its
 * own. */
static void file_times_do_not_rule(void **state)
{
	struct candidate c = {0};
	struct intake_state s = file_of(100, 0), older;

	(void)state;
	s.mtime_ns += 2400 * SECOND;
	assert_int_equal(look(&c, s, CANDIDATE_RESCAN, 10000), CANDIDATE_WAIT);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 13000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 13000), CANDIDATE_HAND_OVER);
	older = s;
	older.mtime_ns -= 3600 * SECOND;
	older.ctime_ns = EPOCH + 20 * SECOND;
	assert_int_equal(look(&c, older, CANDIDATE_RESCAN, 20000), CANDIDATE_WAIT);
	assert_int_equal(look(&c, older, CANDIDATE_TIMER, 23000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, older, true, 23000), CANDIDATE_HAND_OVER);
	older.mtime_ns = INT64_MAX;
	older.ctime_ns = INT64_MIN;
	assert_int_equal(look(&c, older, CANDIDATE_CLOSED, 30000), CANDIDATE_READ);
	older.mtime_ns = INT64_MIN;
	assert_int_equal(look(&c, older, CANDIDATE_CLOSED, 30000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, older, true, 30000), CANDIDATE_HAND_OVER);
}

/* Two saves in one clock tick look the same: the second closing is handed over once more, not lost.
 */
static void second_save_in_one_tick_is_not_lost(void **state)
{
	struct candidate c = {0};
	struct intake_state s = file_of(100, 50), fat = file_of(100, 5000);

	(void)state;
	assert_int_equal(look(&c, s, CANDIDATE_CLOSED, 51), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 51), CANDIDATE_HAND_OVER);
	assert_int_equal(look(&c, s, CANDIDATE_CLOSED, 55), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 55), CANDIDATE_HAND_OVER);
	/* Read a second later it can no longer hide a save. */
	assert_int_equal(look(&c, s, CANDIDATE_CLOSED, 1050), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 1050), CANDIDATE_HAND_OVER);
	assert_int_equal(look(&c, s, CANDIDATE_CLOSED, 1060), CANDIDATE_REST);
	/* The two-second slot of FAT: times are whole seconds. */
	fat.ctime_ns = fat.mtime_ns = EPOCH + 4 * SECOND;
	assert_int_equal(look(&c, fat, CANDIDATE_CLOSED, 5000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, fat, true, 5000), CANDIDATE_HAND_OVER);
	assert_int_equal(look(&c, fat, CANDIDATE_CLOSED, 5900), CANDIDATE_READ);
	assert_int_equal(read_it(&c, fat, true, 7000), CANDIDATE_HAND_OVER);
	assert_int_equal(look(&c, fat, CANDIDATE_CLOSED, 7100), CANDIDATE_REST);
}

static void changed_between_look_and_read_begins_anew(void **state)
{
	struct candidate c = {0};

	(void)state;
	assert_int_equal(look(&c, file_of(100, 50), CANDIDATE_CLOSED, 51), CANDIDATE_READ);
	assert_int_equal(read_it(&c, file_of(120, 52), true, 52), CANDIDATE_WAIT);
	assert_int_equal(c.due_ms, 3052);
	assert_int_equal(look(&c, file_of(120, 52), CANDIDATE_TIMER, 100), CANDIDATE_WAIT);
	assert_int_equal(look(&c, file_of(120, 52), CANDIDATE_CLOSED, 101), CANDIDATE_READ);
}

/* A writer's close counts for the state it closed, not for a later one. */
static void a_close_is_for_one_state(void **state)
{
	struct candidate c = {0};

	(void)state;
	assert_int_equal(look(&c, file_of(100, 50), CANDIDATE_CLOSED, 51), CANDIDATE_READ);
	assert_int_equal(read_it(&c, file_of(100, 50), false, 51), CANDIDATE_WAIT);
	assert_int_equal(look(&c, file_of(150, 70), CANDIDATE_TIMER, 71), CANDIDATE_WAIT);
	assert_int_equal(c.due_ms, 3071);
}

static void what_was_known_rests_until_it_changes(void **state)
{
	struct candidate c = {0}, d = {0};
	struct intake_state s = file_of(100, 0), remembered = s, other = s;

	(void)state;
	remembered.dev = 0;
	remembered.ctime_ns = 0;
	candidate_known(&c, &remembered);
	assert_int_equal(look(&c, s, CANDIDATE_RESCAN, 90000), CANDIDATE_REST);
	other.ctime_ns += 1; /* compared from now on */
	assert_int_equal(look(&c, other, CANDIDATE_RESCAN, 90000), CANDIDATE_READ);
	candidate_known(&d, &remembered);
	other = s;
	other.size++;
	assert_int_equal(look(&d, other, CANDIDATE_RESCAN, 90000), CANDIDATE_READ);
}

static void reopened_it_comes_again(void **state)
{
	struct candidate c = {0};
	struct intake_state s = file_of(100, 0);

	(void)state;
	assert_int_equal(look(&c, s, CANDIDATE_RESCAN, 9000), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 9000), CANDIDATE_HAND_OVER);
	candidate_reopen(&c, 9000, 500);
	assert_int_equal(c.due_ms, 9500);
	assert_int_equal(look(&c, s, CANDIDATE_TIMER, 9500), CANDIDATE_READ);
	assert_int_equal(read_it(&c, s, true, 9500), CANDIDATE_HAND_OVER);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(closed_with_end_mark_arrives_at_once),
	    cmocka_unit_test(partial_file_polled),
	    cmocka_unit_test(without_end_mark_it_waits_then_comes_flagged),
	    cmocka_unit_test(found_files_must_be_old_or_quiet),
	    cmocka_unit_test(file_times_do_not_rule),
	    cmocka_unit_test(second_save_in_one_tick_is_not_lost),
	    cmocka_unit_test(changed_between_look_and_read_begins_anew),
	    cmocka_unit_test(a_close_is_for_one_state),
	    cmocka_unit_test(what_was_known_rests_until_it_changes),
	    cmocka_unit_test(reopened_it_comes_again),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
