/*
 * Goal: whatever command to a server an order is cut at, by a kill of the carrier or by the death of the
 * server, before it is done or after: what the carrier says of the machine is so, and the next look ends
 * with both new programs or with both old ones, says which, and leaves nothing behind.
 *
 * Commands that change something are all cut, in two of the four ways in turn; with YOKE_LONG=1 in the
 * environment every command is, in all four.
 */
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>
#include "remote_case.h"

enum cut { KILLED_BEFORE, KILLED_AFTER, DEAD_BEFORE, DEAD_AFTER, CUTS };

static unsigned at, met; /* the command of interest that is cut; how many came */
static enum cut cut;
static bool with_old, no_replace;

/* The way to cut that comes after this one at the same command; CUTS: none. */
static enum cut next_cut(enum cut last)
{
	if (getenv("YOKE_LONG"))
		return last + 1;
	return last == KILLED_BEFORE ? DEAD_AFTER : last == KILLED_AFTER ? DEAD_BEFORE : CUTS;
}

static enum cut first_cut(void)
{
	return getenv("YOKE_LONG") || at % 2 ? KILLED_BEFORE : KILLED_AFTER;
}

static bool changes(const char *verb)
{
	return !strcmp(verb, "STOR") || !strcmp(verb, "RNFR") || !strcmp(verb, "RNTO") ||
	       !strcmp(verb, "DELE");
}

static enum ftp_act play(const char *verb, const char *argument, unsigned n)
{
	if ((!getenv("YOKE_LONG") && !changes(verb)) || ++met != at)
		return FTP_DO;
	if (cut == KILLED_BEFORE || cut == KILLED_AFTER)
		kill(r.pid, SIGKILL);
	else
		ftp.down = true;
	return cut == KILLED_BEFORE || cut == DEAD_BEFORE ? FTP_CLOSE_BEFORE : FTP_CLOSE_AFTER;
}

static void lay_out(void)
{
	remote_set_up(NULL);
	ftp.no_replace = no_replace;
	met = 0;
	if (with_old)
		return;
	unlink(rig_path(&r, "share/path1/4417.NC"));
	unlink(rig_path(&r, "share/path2/4417.NC"));
}

static const char *file(int i)
{
	return rig_read(&r, i ? "share/path2/4417.NC" : "share/path1/4417.NC");
}

static bool is(const char *have, const char *text)
{
	return have && text ? !strcmp(have, text) : have == text;
}

static const char *const old[] = {OLD_UP, OLD_LO}, *const new[] = {NEW_UP, NEW_LO};

/* What is said of a channel is so. */
static void true_of(int i)
{
	switch ((enum carry_held)r.outcome.channel[i].held) {
	case CARRY_HELD_NEW:
		assert_true(is(file(i), new[i]));
		break;
	case CARRY_HELD_OLD:
		assert_true(is(file(i), with_old ? old[i] : NULL));
		break;
	case CARRY_HELD_ABSENT:
		assert_null(file(i));
		break;
	case CARRY_HELD_OTHER:
	case CARRY_HELD_STUMP:
		fail_msg("there is nothing else");
	case CARRY_HELD_UNKNOWN:
		break;
	}
}

static void settled(void)
{
	bool all_new = is(file(0), new[0]) && is(file(1), new[1]);
	bool all_old = is(file(0), with_old ? old[0] : NULL) && is(file(1), with_old ? old[1] : NULL);

	if (!all_new && !all_old)
		fail_msg("mixed after command %u, cut %d: upper %s, lower %s", at, cut,
		    file(0) ? file(0) : "-", file(1) ? file(1) : "-");
	for (int i = 0; i < 2; i++) {
		assert_int_not_equal(r.outcome.channel[i].held, CARRY_HELD_UNKNOWN);
		true_of(i);
	}
	clean();
}

static void cut_everywhere(bool old_too, bool refuses)
{
	bool reached = true;
	unsigned n = 0;

	with_old = old_too;
	no_replace = refuses;
	for (at = 1; reached; at++)
		for (cut = first_cut(); cut < CUTS && reached; cut = next_cut(cut), n++) {
			lay_out();
			ftp.on_command = play;
			rig_run(&r);
			reached = met >= at;
			for (int i = 0; r.has_outcome && i < 2; i++)
				true_of(i);
			inspect();
			settled();
			remote_tear_down(NULL);
		}
	print_message("cut %u times\n", n);
	assert_true(n > 15);
}

static void over_old_programs(void **state)
{
	cut_everywhere(true, false);
}

static void over_old_programs_that_must_go_first(void **state)
{
	cut_everywhere(true, true);
}

static void first_pair(void **state)
{
	cut_everywhere(false, false);
}

/* The look at a mixed machine is itself cut everywhere. */
static void the_look_is_cut(void **state)
{
	with_old = true;
	for (no_replace = false;; no_replace = true) {
		bool reached = true;

		for (at = 1; reached; at++)
			for (cut = first_cut(); cut < CUTS && reached; cut = next_cut(cut)) {
				lay_out();
				script_down("RNTO", "path1/4417.NC", no_replace ? 2 : 1, FTP_CLOSE_AFTER);
				ftp.no_replace = no_replace;
				rig_run(&r);
				assert_true(is(file(0), NEW_UP) && is(file(1), OLD_LO));
				r.order.act = CARRY_INSPECT;
				ftp_forget();
				ftp.password = SESAME;
				ftp.no_replace = no_replace;
				met = 0;
				ftp.on_command = play;
				rig_run(&r);
				reached = met >= at;
				inspect();
				settled();
				assert_true(is(file(0), OLD_UP) && is(file(1), OLD_LO));
				remote_tear_down(NULL);
			}
		if (no_replace)
			break;
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(over_old_programs),
	    cmocka_unit_test(over_old_programs_that_must_go_first),
	    cmocka_unit_test(first_pair),
	    cmocka_unit_test(the_look_is_cut),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
