/*
 * Goal: a machine that gets its programs by stick is set up with names that a stick takes, and what
 * cannot be on one is told with file and line.
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
	assert_int_equal(machine.line[1].stick.eob, LINE_ENDS_AS_IS);
	assert_false(machine.line[1].stick.short_names);
	read_machine(state,
	    STICK "name = O{number}.NC\nshort_names = yes\neob = crlf\n[line upper]\nfolder = CH1\n"
	          "[line lower]\nfolder = NC/CH2\neob = lf\n",
	    0);
	assert_string_equal(machine.line[0].name, "O{number}.NC");
	assert_string_equal(machine.line[0].stick.folder, "CH1");
	assert_string_equal(machine.line[1].stick.folder, "NC/CH2");
	assert_int_equal(machine.line[0].stick.eob, LINE_ENDS_CRLF);
	assert_int_equal(machine.line[1].stick.eob, LINE_ENDS_LF);
	assert_true(machine.line[1].stick.short_names);
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

static int finish(void **state)
{
	conf_report_free(&report);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_stick, scratch_setup, scratch_teardown),
	    cmocka_unit_test_setup_teardown(test_errors, scratch_setup, scratch_teardown)};

	return cmocka_run_group_tests(tests, NULL, finish);
}
