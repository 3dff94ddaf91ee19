/* Goal: `yoke ports` shows each port with the address to write, its adapter and who uses it. */
#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include "fake_sys.h"
#include "scratch.h"

static char said[16384];

/* Run the command below the scratch folder; its exit status, its output in said. */
static int run(void **state, const char *more)
{
	char command[600];
	size_t n;
	FILE *f;
	int status;

	snprintf(command, sizeof command, "COLUMNS=160 %s/cli/yoke ports --root %s %s 2>&1",
	    BUILD_DIR, (char *)*state, more);
	f = popen(command, "r");
	assert_non_null(f);
	n = fread(said, 1, sizeof said - 1, f);
	said[n] = '\0';
	status = pclose(f);
	return WEXITSTATUS(status);
}

static void a_shop(void **state)
{
	const char *sys = scratch_path(state, "sys");

	mkdir(sys, 0755);
	fake_sys_usb(sys, "ttyUSB0", "1", "A1B2C3", 0);
	fake_sys_usb(sys, "ttyUSB1", "2", NULL, 0);
	fake_sys_usb(sys, "ttyUSB2", "3", "same", 0);
	fake_sys_usb(sys, "ttyUSB3", "4", "same", 0);
	fake_sys_platform(sys, "ttyS0", "serial8250", "4");
	mkdir(scratch_path(state, "proc"), 0755);
	mkdir(scratch_path(state, "proc/812"), 0755);
	mkdir(scratch_path(state, "proc/812/fd"), 0755);
	scratch_file(state, "proc/812/comm", "terminal\n");
	assert_int_equal(symlink("/dev/ttyUSB0", scratch_path(state, "proc/812/fd/3")), 0);
}

static void as_a_table(void **state)
{
	static const char *const rows[] = {"usb:A1B2C3 ",
	    "path:pci-0000:00:14.0-usb-0:2:1.0-port0 ", "path:pci-0000:00:14.0-usb-0:3:1.0-port0 ",
	    "path:pci-0000:00:14.0-usb-0:4:1.0-port0 ", "port:ttyS0 ", "Invented Serial 0403:6001",
	    "terminal (process 812)"};

	a_shop(state);
	assert_int_equal(run(state, ""), 0);
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
		if (!strstr(said, rows[i]))
			fail_msg("'%s' is not in:\n%s", rows[i], said);
	assert_null(strstr(said, "usb:same"));
}

static void as_json(void **state)
{
	const char *address, *who, *serial;
	json_t *all;

	a_shop(state);
	assert_int_equal(run(state, "--json"), 0);
	all = json_loads(said, 0, NULL);
	assert_int_equal(json_array_size(all), 5);
	assert_int_equal(json_unpack(json_array_get(all, 1), "{s:s, s:s, s:s}", "address", &address,
	                     "used_by", &who, "serial", &serial),
	    0);
	assert_string_equal(address, "usb:A1B2C3");
	assert_string_equal(who, "terminal (process 812)");
	assert_string_equal(serial, "A1B2C3");
	json_decref(all);
}

static void none_and_wrong(void **state)
{
	assert_int_equal(run(state, ""), 2);
	assert_non_null(strstr(said, "cannot be read from"));
	mkdir(scratch_path(state, "sys"), 0755);
	mkdir(scratch_path(state, "sys/class"), 0755);
	mkdir(scratch_path(state, "sys/class/tty"), 0755);
	assert_int_equal(run(state, ""), 0);
	assert_string_equal(said, "this computer has no serial port\n");
	assert_int_equal(run(state, "--json"), 0);
	assert_string_equal(said, "[]\n");
	assert_int_equal(run(state, "ttyS0"), 2);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, scratch_setup, scratch_teardown)
	const struct CMUnitTest tests[] = {
	    T(as_a_table),
	    T(as_json),
	    T(none_and_wrong),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
