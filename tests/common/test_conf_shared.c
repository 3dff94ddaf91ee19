/*
 * Goal: machines that would have the same files, or one folder in which nothing keeps their orders apart, are
 * refused, however the folder is spelled; what they may share is told.
 */
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include "conf_case.h"

static void test_shared_line(void **state)
{
	const char *serial = "[line]\nkind = serial\naddress = tcp://gate:4001\n";

	read_home(state, "", serial, serial);
	assert_int_equal(report.errors, 0);
	assert_int_equal(report.warnings, 1);
	expect("warning: one and two share the line tcp://gate:4001");
	/* A send to one machine changed what the other was said to hold. */
	read_home(state, "", "[line]\nkind = directory\nroot = /srv/cnc\nmarker = HERE\n",
	    "[line]\nkind = directory\nroot = /srv/cnc\nmarker = HERE\n");
	assert_int_equal(report.errors, 1);
	expect("one and two have the same files in /srv/cnc");
	/* One folder, spelled in two ways, passed for two. */
	read_home(state, "", "[line]\nkind = directory\nroot = /srv/cnc/\nfolder = a\nmarker = HERE\n",
	    "[line]\nkind = directory\nroot = /srv\nfolder = cnc//a/\nmarker = HERE\n");
	assert_int_equal(report.errors, 1);
	expect("one and two have the same files in /srv/cnc/a");
	read_home(state, "",
	    "[line]\nkind = directory\nroot = /srv/cnc\nmarker = HERE\nname = A{job}{channel}\n",
	    "[line]\nkind = directory\nroot = /srv/cnc\nmarker = HERE\nname = B{job}{channel}\n");
	assert_int_equal(report.errors, 0);
	assert_int_equal(report.warnings, 1);
	read_home(state, "", "", "");
	assert_int_equal(report.warnings, 0);
}

/*
 * A mounted share has a lock for each folder, a server has none: there an order of the one machine removed what
 * an order of the other was about to put in place, and the old program that it would have put back.
 */
static void test_shared_server(void **state)
{
	static const char *const there[] = {"ftp://gate", "ftp://GATE:21"}, *const apart[] = {
	    "ftp://gate:2121", "ftps://gate", "ftp://other"};
	char one[400], two[400];
	static const char form[] = "[line]\nkind = remote\naddress = %s\nroot = %s\nfolder = %s\n"
	                           "marker = HERE\nuser = cnc\npassword = credential:x\nname = %c{job}{channel}\n";

	snprintf(one, sizeof(one), form, "ftp://gate", "/nc", "M1", 'A');
	for (size_t i = 0; i < 2; i++) {
		snprintf(two, sizeof(two), form, there[i], "/", "nc/M1/", 'B');
		read_home(state, "", one, two);
		assert_int_equal(report.errors, 1);
		expect("one and two have the same folder ftp://gate/nc/M1");
	}
	for (size_t i = 0; i < 3; i++) {
		snprintf(two, sizeof(two), form, apart[i], "/", "nc/M1/", 'B');
		read_home(state, "", one, two);
		assert_int_equal(report.errors, 0);
	}
	snprintf(two, sizeof(two), form, "ftp://gate", "/nc", "M2", 'A');
	read_home(state, "", one, two);
	assert_int_equal(report.errors, 0);
}

static int finish(void **state)
{
	conf_free(&conf);
	conf_report_free(&report);
	return 0;
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, scratch_setup, scratch_teardown)
	const struct CMUnitTest tests[] = {
	    TEST(test_shared_line),
	    TEST(test_shared_server),
	};

	return cmocka_run_group_tests(tests, NULL, finish);
}
