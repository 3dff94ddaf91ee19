#include "conf_case.h"

#include <string.h>
#include <sys/stat.h>

struct conf_machine machine;
struct conf conf;
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

void read_home(void **state, const char *yoke, const char *one, const char *two)
{
	int result;

	conf_free(&conf);
	conf_report_free(&report);
	mkdir(scratch_path(state, "machines"), 0755);
	if (yoke)
		scratch_file(state, "yoke.conf", yoke);
	if (one)
		scratch_file(state, "machines/one.conf", one);
	if (two)
		scratch_file(state, "machines/two.conf", two);
	result = conf_read(*state, &conf, &report);
	assert_int_equal(result, report.errors ? -1 : 0);
}
