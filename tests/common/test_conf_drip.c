/*
 * Goal: that a control executes while it reads is set where a loss of characters cannot go unseen,
 * and what cannot work is told with file and line.
 */
#include <stdio.h>
#include <string.h>
#include "conf_case.h"

#define SERIAL "[line]\nkind = serial\naddress = port:ttyS0\n"

/* Which controls execute while they read; only those that brake and say when they begin. */
static void test_drip(void **state)
{
	static const char *const flows[] = {"xon", "rtscts", "dtrdsr", "both", "none"};
	char text[256];

	read_machine(state, SERIAL "drip = alone\n[line lower]\ndrip = waits\n", 0);
	assert_int_equal(machine.line[0].serial.drip, LINE_DRIP_ALONE);
	assert_int_equal(machine.line[1].serial.drip, LINE_DRIP_WAITS);
	read_machine(state, SERIAL "drip = yes\n", 1);
	expect("LATHE-1.conf:4: error:");
	expect("waits");
	read_machine(state, "[line]\nkind = directory\nroot = /srv\nmarker = M\ndrip = alone\n", 1);
	expect("'drip' belongs to a line of kind serial, this line is of kind directory");
	for (int asks = 0; asks < 2; asks++) {
		for (size_t i = 0; i < sizeof flows / sizeof *flows; i++) {
			bool none = !strcmp(flows[i], "none"), xon = !strcmp(flows[i], "xon");

			snprintf(text, sizeof text, SERIAL "flow = %s\nwait_dc1 = %s\ndrip = waits\n",
			    flows[i], asks ? "yes" : "no");
			read_machine(state, text, none || (xon && !asks));
			if (none)
				expect("LATHE-1.conf:6: error: channel upper: drip needs a control "
				       "that brakes");
			else if (xon && !asks)
				expect("LATHE-1.conf:6: error: channel upper: drip needs wait_dc1");
		}
	}
}

static int finish(void **state)
{
	conf_report_free(&report);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(test_drip, scratch_setup, scratch_teardown),
	};

	return cmocka_run_group_tests(tests, NULL, finish);
}
