/*
 * Goal: calls from a machine's keyboard are set as they were meant, and what cannot work is told with
 * file and line: a line that nobody can answer on, words that nobody could tell apart.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "conf_case.h"

static struct conf conf;

static void read_yoke(void **state, const char *yoke, size_t errors)
{
	conf_free(&conf);
	conf_report_free(&report);
	mkdir(scratch_path(state, "machines"), 0755);
	scratch_file(state, "yoke.conf", yoke);
	conf_read(*state, &conf, &report);
	assert_int_equal(report.errors, errors);
}

/* Who listens answers on the same line, and only a DC1 tells that the control reads. */
static void test_call(void **state)
{
	read_machine(state, "", 0);
	assert_false(machine.call.listen);
	assert_string_equal(machine.call.words.last_good, "LAST GOOD");
	read_machine(state,
	    "[line]\nkind = serial\naddress = tcp://h:1\n[call]\nlisten = yes\nmark = M1\n"
	    "bring = HOLE\n",
	    0);
	assert_true(machine.call.listen);
	assert_string_equal(machine.call.words.mark, "M1");
	assert_string_equal(machine.call.words.bring, "HOLE");
	read_machine(state,
	    "[line]\nkind = serial\naddress = tcp://h:1\nwait_dc1 = no\n[line lower]\n"
	    "address = tcp://h:2\nwait_dc1 = yes\n[call]\nlisten = yes\n",
	    1);
	expect("LATHE-1.conf:9: error: listen = yes needs wait_dc1 = yes for channel upper");
	read_machine(state, "[call]\nlisten = yes\n", 2);
	expect("LATHE-1.conf:2: error: listen = yes, and channel lower has no serial line");
	read_machine(state, "[call]\nproven = BRING\n", 1);
	expect("LATHE-1.conf:2: error: [call]: of bring, last_good and proven one begins");
	read_machine(state, "[call]\nlisen = yes\n", 1);
	expect("did you mean 'listen'?");
}

static void test_badges(void **state)
{
	read_yoke(state, "[badges]\n17 = anna\nA-4 = Bela B.\n", 0);
	assert_string_equal(conf_badge_name(&conf.badges, "17"), "anna");
	assert_string_equal(conf_badge_name(&conf.badges, "a-4"), "Bela B.");
	assert_null(conf_badge_name(&conf.badges, "18"));
	read_yoke(state, "[badges]\na = anna\nA = bela\nb =\nc d = x\n", 3);
	expect("yoke.conf:3: error: badge A stands twice");
	expect("yoke.conf:4: error: badge b: the name of a person");
	expect("yoke.conf:5: error: badge 'c d'");
}

static int finish(void **state)
{
	conf_free(&conf);
	conf_report_free(&report);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_call, scratch_setup, scratch_teardown),
	    cmocka_unit_test_setup_teardown(test_badges, scratch_setup, scratch_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, finish);
}
