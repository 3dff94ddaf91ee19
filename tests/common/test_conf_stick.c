/*
 * Goal: a machine that gets its programs by stick is set up with names that a stick takes, and what
 * cannot be on one is told with file and line; a share is asked for 8.3 names and line ends with the same
 * keys.
 */
#include <stdio.h>
#include <string.h>
#include "conf_case.h"

#define STICK "[line]\nkind = stick\n"

static void test_stick(void **state)
{
	read_machine(state, STICK, 0);
	assert_int_equal(machine.line[1].kind, LINE_STICK);
	assert_string_equal(machine.line[1].name, "{job}_{channel}.NC");
	assert_string_equal(machine.line[1].stick.folder, "");
	assert_int_equal(machine.line[1].eob, LINE_ENDS_AS_IS);
	assert_false(machine.line[1].short_names);
	read_machine(state,
	    STICK "name = O{number}.NC\nshort_names = yes\neob = crlf\n[line upper]\nfolder = CH1\n"
	          "[line lower]\nfolder = NC/CH2\neob = lf\n",
	    0);
	assert_string_equal(machine.line[0].name, "O{number}.NC");
	assert_string_equal(machine.line[0].stick.folder, "CH1");
	assert_string_equal(machine.line[1].stick.folder, "NC/CH2");
	assert_int_equal(machine.line[0].eob, LINE_ENDS_CRLF);
	assert_int_equal(machine.line[1].eob, LINE_ENDS_LF);
	assert_true(machine.line[1].short_names);
}

static void test_errors(void **state)
{
	read_machine(state, STICK "root = /mnt\n", 1);
	expect("'root' belongs to a line of kind directory, this line is of kind stick");
	read_machine(state, STICK "eob = crcr\n", 1);
	expect("LATHE-1.conf:3: error: eob = 'crcr': as-is, lf or crlf is allowed");
	read_machine(state, STICK "folder = ../x\n", 1);
	expect("LATHE-1.conf:3: error: folder = '../x': it holds . or ..");
	read_machine(state, STICK "folder = /CH1\n", 1);
	read_machine(state, STICK "folder = a:b\n", 1);
	expect("FAT does not take");
	read_machine(state, STICK "folder = long_folder_name\nshort_names = yes\n", 1);
	expect("is no 8.3 name");
	read_machine(state, STICK "name = {job}*{channel}.NC\n", 1);
	expect("LATHE-1.conf:3: error: name = '{job}*{channel}.NC': such a name holds one of");
	read_machine(state, STICK "name = {job}{channel}.\n", 1);
	read_machine(state, STICK "name = {job}{channel}.nc\nshort_names = yes\n", 0);
	read_machine(state, STICK "name = {job}{channel}.text\nshort_names = yes\n", 1);
	read_machine(state, STICK "name = {number}.NC\n", 1);
	expect("channels upper and lower would be written to the same file");
	read_machine(
	    state, STICK "name = {number}.NC\n[line upper]\nfolder = ch\n[line lower]\nfolder = CH\n", 1);
	expect("same file");
	read_machine(state, STICK "[machine]\non_release = carry\n", 1);
	expect("a stick is carried by a person");
	read_machine(state, STICK "[running]\nfile = X\n", 1);
	read_machine(state, STICK "[call]\nlisten = yes\n", 2);
}

#define SHARE "[line]\nkind = directory\nroot = /mnt\nmarker = HERE\n"

static void test_share(void **state)
{
	read_machine(state, SHARE, 0);
	assert_int_equal(machine.line[0].eob, LINE_ENDS_AS_IS);
	assert_false(machine.line[0].short_names);
	assert_false(machine.line[0].upper_case);
	read_machine(state,
	    SHARE "name = o{number}.nc\nshort_names = yes\neob = crlf\n[line upper]\nfolder = path_number_1\n"
	          "[line lower]\nfolder = path_number_2\neob = lf\nupper_case = yes\n",
	    0);
	assert_string_equal(machine.line[0].name, "o{number}.nc");
	assert_int_equal(machine.line[0].eob, LINE_ENDS_CRLF);
	assert_int_equal(machine.line[1].eob, LINE_ENDS_LF);
	assert_true(machine.line[0].short_names);
	assert_false(machine.line[0].upper_case);
	assert_true(machine.line[1].upper_case);
}

static void test_share_errors(void **state)
{
	read_machine(state, SHARE "eob = cr\n", 1);
	expect("LATHE-1.conf:5: error: eob = 'cr': as-is, lf or crlf is allowed");
	read_machine(state, SHARE "short_names = perhaps\n", 1);
	expect("LATHE-1.conf:5: error:");
	read_machine(state, SHARE "name = {job}_{channel}.text\nshort_names = yes\n", 1);
	expect("LATHE-1.conf:5: error: name = '{job}_{channel}.text': such a name is no 8.3 name");
	read_machine(state, SHARE "name = {job}_{channel}.text\nupper_case = yes\n", 0);
	/* Two patterns that only upper case makes one. */
	read_machine(state, SHARE "[line upper]\nname = o{number}\n[line lower]\nname = O{number}\n", 0);
	read_machine(state,
	    SHARE "upper_case = yes\n[line upper]\nname = o{number}\n[line lower]\nname = O{number}\n", 1);
	expect("channels upper and lower would be written to the same file");
	read_machine(state, "[line]\nkind = serial\naddress = tcp://192.0.2.7:4001\nshort_names = yes\n", 1);
	expect("LATHE-1.conf:4: error: 'short_names' belongs to a line whose programs are files, a share or "
	       "a stick; this line is of kind serial");
	read_machine(state, SHARE "short_name = yes\n", 1);
	expect("'short_names'");
}

static int finish(void **state)
{
	conf_report_free(&report);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_stick, scratch_setup, scratch_teardown),
	    cmocka_unit_test_setup_teardown(test_errors, scratch_setup, scratch_teardown),
	    cmocka_unit_test_setup_teardown(test_share, scratch_setup, scratch_teardown),
	    cmocka_unit_test_setup_teardown(test_share_errors, scratch_setup, scratch_teardown)};

	return cmocka_run_group_tests(tests, NULL, finish);
}
