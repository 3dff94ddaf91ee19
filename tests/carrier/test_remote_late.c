/*
 * Goal: a server that replaces nothing that is there, that dies in the middle, or that answers late or not
 * at all: the machine ends with both new programs or with both old ones, or it is said that nobody knows,
 * and the next look finds out. What comes late is expected.
 */
#include <signal.h>
#include <string.h>
#include "remote_case.h"

/* --- Renames that replace nothing --- */

static void no_replacing(void **state)
{
	ftp.no_replace = true;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
	says("the share replaces no file that is there: upper was away for");
	assert_int_equal(ftp_count("DELE"), 2 + 2 + 2); /* programs, copies, trial files */
}

static void no_replacing_and_cut_in_the_gap(void **state)
{
	script("RNTO", "path2/4417.NC", 1, FTP_CLOSE_BEFORE);
	ftp.no_replace = true;
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
}

/* The server dies when the program is removed and the new one not in its place: nothing is there. */
static void no_replacing_and_dead_in_the_gap(void **state)
{
	for (unsigned which = 1; which <= 2; which++) {
		const char *at = which == 1 ? "path1/4417.NC" : "path2/4417.NC";

		script_down("RNTO", at, which == 1 ? 2 : 1, FTP_CLOSE_BEFORE);
		ftp.no_replace = true;
		r.order.act = CARRY_SEND;
		r.order.id++;
		rig_run(&r);
		assert_int_equal(r.outcome.channel[which - 1].held, CARRY_HELD_UNKNOWN);
		says("is not known");
		assert_null(rig_read(
		    &r, which == 1 ? "share/path1/4417.NC" : "share/path2/4417.NC"));
		inspect();
		ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OLD);
		holds(OLD_UP, OLD_LO);
		clean();
	}
}

static enum ftp_act no_name_again(const char *verb, const char *argument, unsigned n)
{
	return strcmp(verb, "RNTO") || !strstr(argument, "/4417.NC") ? FTP_DO : FTP_REFUSE;
}

/* ... and a server that takes the name of a program by no rename at all: the refusal is one of the
 * name, not of replacing, and no program is removed. */
static void no_name_is_taken(void **state)
{
	ftp.on_command = no_name_again;
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
	/* When it replaces nothing either, the old program is written anew under its name. */
	ftp.no_replace = true;
	rig_run(&r);
	ended(CARRY_ERROR_REFUSED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
}

/* --- Answers that do not come --- */

/* Case "rename refused", variant: the connection is closed after the first 250. */
static void closed_after_the_first_rename(void **state)
{
	script("RNTO", "path1/4417.NC", 1, FTP_CLOSE_AFTER);
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW); /* it looked, and went on */
	holds(NEW_UP, NEW_LO);
	clean();
}

static void dead_after_the_first_rename(void **state)
{
	script_down("RNTO", "path1/4417.NC", 1, FTP_CLOSE_AFTER);
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_UNKNOWN, CARRY_HELD_UNKNOWN);
	says("is not known until its share can be read again");
	holds(NEW_UP, OLD_LO);
	inspect();
	ended(CARRY_ERROR_NONE, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	clean();
}

static void dead_after_the_last_rename(void **state)
{
	script_down("RNTO", "path2/4417.NC", 1, FTP_CLOSE_AFTER);
	rig_run(&r);
	ended(CARRY_ERROR_IO, CARRY_HELD_UNKNOWN, CARRY_HELD_UNKNOWN);
	inspect();
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	holds(NEW_UP, NEW_LO);
	clean();
}

/* The answer to the second rename comes after our patience, and the rename with it: meanwhile it was
 * seen to that it cannot be done any more. */
static void a_rename_comes_late(void **state)
{
	for (uint32_t i = 0; i < 2; i++)
		r.order.item[i].line.remote.answer_ms = 1000;
	script("RNTO", "path2/4417.NC", 1, FTP_LATE);
	rig_run(&r);
	ended(CARRY_ERROR_NO_ANSWER, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	ftp_wake();
	holds(OLD_UP, OLD_LO);
	clean();
}

static enum ftp_act all_freeze(const char *verb, const char *argument, unsigned n)
{
	static bool frozen;

	if (n == 1)
		frozen = false;
	frozen |= !strcmp(verb, "RNTO") && strstr(argument, "path2/4417.NC");
	return frozen ? FTP_LATE : FTP_DO;
}

/* The whole server freezes with the second rename, and does it when it wakes up. */
static void a_server_freezes(void **state)
{
	for (uint32_t i = 0; i < 2; i++)
		r.order.item[i].line.remote.answer_ms = r.order.item[i].line.remote.open_ms = 1500;
	ftp.on_command = all_freeze;
	rig_run(&r);
	ended(CARRY_ERROR_NO_ANSWER, CARRY_HELD_UNKNOWN, CARRY_HELD_UNKNOWN);
	holds(NEW_UP, OLD_LO);
	ftp_wake();
	holds(NEW_UP, NEW_LO); /* done, although a time-out was what we saw */
	inspect();
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	clean();
}

static void heartbeats_while_nothing_comes(void **state)
{
	unsigned without;

	rig_run(&r);
	without = r.progresses;
	r.order.id++;
	script("STOR", "lower.part", 1, FTP_SLOW);
	ftp.slow_ms = 2500;
	for (uint32_t i = 0; i < 2; i++)
		r.order.item[i].line.remote.answer_ms = 5000;
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
	assert_true(r.progresses >= without + 2500 / CARRY_HEARTBEAT_MS);
}

/* A slow server has all of a program in its system before it has read it: for as long as nothing moves it is
 * waited for by stall_ms, and not by answer_ms, which such an order could not keep. */
static void a_file_is_answered_after_a_while(void **state)
{
	script("STOR", "lower.part", 1, FTP_SLOW);
	ftp.slow_ms = 3000;
	for (uint32_t i = 0; i < 2; i++) {
		r.order.item[i].line.remote.answer_ms = 1000;
		r.order.item[i].line.remote.stall_ms = 9000;
	}
	rig_run(&r);
	ended(CARRY_ERROR_NONE, CARRY_HELD_NEW, CARRY_HELD_NEW);
}

static void stop_soon(struct rig *rig, const struct carry_progress *p)
{
	if (p->phase == CARRY_PHASE_SEND && p->item == 1)
		message_send(rig->sock, CARRY_CANCEL, NULL, NULL, 0, 0);
}

static void cancelled_while_nothing_comes(void **state)
{
	script("STOR", "lower.part", 1, FTP_SLOW);
	ftp.slow_ms = 6000;
	for (uint32_t i = 0; i < 2; i++)
		r.order.item[i].line.remote.answer_ms = 10000;
	r.on_progress = stop_soon;
	rig_run(&r);
	ended(CARRY_ERROR_CANCELLED, CARRY_HELD_OLD, CARRY_HELD_OLD);
	holds(OLD_UP, OLD_LO);
	r.on_progress = NULL;
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, remote_set_up, remote_tear_down)
	const struct CMUnitTest tests[] = {
	    T(no_replacing),
	    T(no_replacing_and_cut_in_the_gap),
	    T(no_replacing_and_dead_in_the_gap),
	    T(no_name_is_taken),
	    T(closed_after_the_first_rename),
	    T(dead_after_the_first_rename),
	    T(dead_after_the_last_rename),
	    T(a_rename_comes_late),
	    T(a_server_freezes),
	    T(heartbeats_while_nothing_comes),
	    T(a_file_is_answered_after_a_while),
	    T(cancelled_while_nothing_comes),
	};

	signal(SIGPIPE, SIG_IGN);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
