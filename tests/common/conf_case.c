#include "conf_case.h"

#include <string.h>

struct conf_machine machine;
struct conf_report report;

void expect(const char *message)
{
	if (!report.text.s || !strstr(report.text.s, message))
		fail_msg(
		    "expected: %s\ngot: %s", message, report.text.s ? report.text.s : "(nothing)");
}

void read_machine(void **state, const char *content, size_t errors)
{
	struct profile shop;

	conf_report_free(&report);
	profile_defaults(&shop);
	conf_machine_read(scratch_file(state, "LATHE-1.conf", content), &shop, &machine, &report);
	if (report.errors != errors)
		fail_msg("%zu errors, not %zu:\n%s", report.errors, errors,
		    report.text.s ? report.text.s : "");
}
