/*
 * Goal: every serial port is found with an identity that stays with it, two that look alike are
 * told apart by their place alone, and who has a port open is named.
 */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>
#include "fake_sys.h"
#include "port_holder.h"
#include "port_list.h"
#include "scratch.h"

static struct port_list list;

static const char *identity(size_t i)
{
	static struct text t;

	text_free(&t);
	port_list_identity(&list, i, &t);
	return t.s ? t.s : "";
}

static void read_list(void **state)
{
	port_list_free(&list);
	assert_int_equal(port_list_read(*state, &list), 0);
}

/*
 * Places are those of udev's path_id: pci-ADDRESS-usb-0:HUB PORTS:CONFIGURATION.INTERFACE, -portN
 * for adapters with several ports; platform-NAME. Source: systemd, udev-builtin-path_id.c.
 */
static void what_is_there(void **state)
{
	fake_sys_usb(*state, "ttyUSB0", "1.2", "A1B2C3", 0);
	fake_sys_modem(*state, "ttyACM0", "4", "E5");
	fake_sys_platform(*state, "ttyS0", "serial8250", "4");
	fake_sys_platform(*state, "ttyS1", "serial8250", "0"); /* no hardware */
	fake_sys_platform(*state, "ttyAMA0", "fe201000.serial", NULL);
	fake_sys_console(*state, "tty1");
	read_list(state);
	assert_int_equal(list.n, 4);
	assert_string_equal(list.v[0].name, "ttyACM0");
	assert_string_equal(list.v[0].path, "pci-0000:00:14.0-usb-0:4:1.0");
	assert_string_equal(identity(0), "usb:E5");
	assert_string_equal(list.v[1].path, "platform-fe201000.serial");
	assert_string_equal(identity(1), "port:ttyAMA0");
	assert_string_equal(list.v[1].title, "invented-uart");
	assert_false(list.v[1].usb);
	assert_string_equal(identity(2), "port:ttyS0");
	assert_string_equal(list.v[3].name, "ttyUSB0");
	assert_string_equal(list.v[3].path, "pci-0000:00:14.0-usb-0:1.2:1.0-port0");
	assert_string_equal(list.v[3].vendor, "0403");
	assert_string_equal(list.v[3].product, "6001");
	assert_string_equal(list.v[3].title, "Invented Serial");
	assert_string_equal(identity(3), "usb:A1B2C3");
}

static void alike(void **state)
{
	fake_sys_usb(*state, "ttyUSB0", "1", NULL, 0); /* no serial number */
	fake_sys_usb(*state, "ttyUSB1", "2", "0001", 0);
	fake_sys_usb(*state, "ttyUSB2", "3", "0001", 0); /* the same one */
	fake_sys_usb(*state, "ttyUSB3", "4", "B 1", 0);  /* not plain */
	fake_sys_usb(*state, "ttyUSB4", "5", "\xff", 0); /* no text */
	fake_sys_usb(*state, "ttyUSB5", "6", "four", 0); /* two ports of one adapter */
	fake_sys_usb(*state, "ttyUSB6", "6", "four", 1);
	read_list(state);
	assert_int_equal(list.n, 7);
	for (size_t i = 0; i < list.n; i++) {
		char want[80];

		snprintf(want, sizeof want, "path:pci-0000:00:14.0-usb-0:%zu:1.0-port%d",
		    i < 6 ? i + 1 : 6, i == 6);
		assert_string_equal(identity(i), want);
	}
}

/* The number in the name of a card's port is that of the cards' order, its slot stays. */
static void cards(void **state)
{
	fake_sys_card(*state, "ttyS4", "01:00.0");
	fake_sys_card(
	    *state, "ttyS5", "02:00.0"); /* two ports on one card: no place of their own */
	fake_sys_card(*state, "ttyS6", "02:00.0");
	read_list(state);
	assert_int_equal(list.n, 3);
	assert_string_equal(identity(0), "path:pci-0000:01:00.0");
	assert_string_equal(identity(1), "port:ttyS5");
	assert_string_equal(identity(2), "port:ttyS6");
}

static void addresses(void **state)
{
	struct port_address a;

	fake_sys_usb(*state, "ttyUSB0", "1", "S1", 0);
	fake_sys_platform(*state, "ttyS0", "serial8250", NULL);
	read_list(state);
	assert_true(port_address_read("usb:0403:6001:S1", &a));
	assert_true(port_list_is(&list.v[1], &a));
	assert_true(port_address_read("usb:0403:6002:S1", &a));
	assert_false(port_list_is(&list.v[1], &a));
	assert_true(port_address_read("usb:AB:CD:EF", &a)); /* colons of the serial number's own */
	assert_string_equal(a.what, "AB:CD:EF");
	assert_true(port_address_read("usb:S", &a)); /* not a beginning of S1 */
	assert_false(port_list_is(&list.v[1], &a));
	assert_true(port_address_read("port:ttyS0", &a));
	assert_true(port_list_is(&list.v[0], &a));
	assert_false(port_address_read("port:../../etc/passwd", &a));
	assert_false(port_address_read("usb:S 1", &a));
	assert_false(port_address_read("path:", &a));
	assert_false(port_address_read("tcp://x:1", &a));
}

static void no_tree(void **state)
{
	port_list_free(&list);
	assert_int_equal(port_list_read(scratch_path(state, "nowhere"), &list), -ENOENT);
	assert_int_equal(list.n, 0);
}

/* Two processes have the port, one of them without a name; we and others are not named. */
static void holders(void **state)
{
	struct text t = {0};
	char path[200];

	for (int pid = 41; pid <= 43; pid++) {
		snprintf(path, sizeof path, "%s/%d", (char *)*state, pid);
		assert_int_equal(mkdir(path, 0755), 0);
		snprintf(path, sizeof path, "%s/%d/fd", (char *)*state, pid);
		assert_int_equal(mkdir(path, 0755), 0);
		snprintf(path, sizeof path, "%s/%d/fd/7", (char *)*state, pid);
		assert_int_equal(symlink(pid == 42 ? "/dev/ttyS01" : "/dev/ttyS0", path), 0);
	}
	scratch_file(state, "41/comm", "termi\033nal\n");
	assert_int_equal(port_holder_find(*state, "/dev/ttyS0", &t), 2);
	assert_non_null(strstr(t.s, "termi?nal (process 41)"));
	assert_non_null(strstr(t.s, "a program (process 43)"));
	text_free(&t);
	assert_int_equal(port_holder_find(*state, "/dev/ttyS9", &t), 0);
	assert_int_equal(port_holder_find(scratch_path(state, "nowhere"), "/dev/ttyS0", &t), 0);
	text_free(&t);
}

/* Lock files, of the form in the Filesystem Hierarchy Standard 3.0, 5.9: ten characters and LF. */
static void lock_files(void **state)
{
	struct text t = {0};
	char number[16];

	snprintf(number, sizeof number, "%10d\n", (int)getppid());
	scratch_file(state, "LCK..ttyS0", number);
	assert_int_equal(port_holder_lock(*state, "ttyS0", &t), 1);
	snprintf(number, sizeof number, "process %d ", (int)getppid());
	assert_non_null(strstr(t.s, number));
	assert_non_null(strstr(t.s, "/LCK..ttyS0)"));
	text_free(&t);
	snprintf(number, sizeof number, "%10d\n", (int)getpid());
	scratch_file(state, "LCK..ttyS1", number);
	scratch_file(state, "LCK..ttyS2", "2147483646\n"); /* over the kernel's most: no process */
	scratch_file(state, "LCK..ttyS3", "");
	scratch_file(state, "LCK..ttyS4", "-1\n");
	scratch_file(state, "LCK..ttyS5", "99999999999999999999\n");
	for (int i = 1; i < 7; i++) {
		char name[8];

		snprintf(name, sizeof name, "ttyS%d", i);
		assert_int_equal(port_holder_lock(*state, name, &t), 0);
	}
	text_free(&t);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, scratch_setup, scratch_teardown)
	const struct CMUnitTest tests[] = {
	    T(what_is_there),
	    T(alike),
	    T(cards),
	    T(addresses),
	    T(no_tree),
	    T(holders),
	    T(lock_files),
	};
	int failed = cmocka_run_group_tests(tests, NULL, NULL);

	port_list_free(&list);
	return failed;
}
