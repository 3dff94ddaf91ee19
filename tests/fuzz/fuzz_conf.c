/*
 * Goal: no configuration file trips its reader: it is taken, or refused with lines that name the
 * file, and whatever was read has its section, key, value and a line that is there.
 */
#include <string.h>
#include "conf_file.h"
#include "input.h"
#include "yoke/profile.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static struct profile p;
	struct conf_report report = {0};
	struct conf_file file = {0};
	struct text why = {0};
	unsigned lines = 1;
	int result;

	for (size_t i = 0; i < size; i++)
		lines += data[i] == '\n';
	result = conf_file_parse("LATHE1.conf", (const char *)data, size, &file, &report);
	must((result == 0) == (report.errors == 0));
	must(!report.text.failed && (report.errors == 0 || report.text.n > 0));
	must_be_plain(report.text.s, report.text.n);
	profile_defaults(&p);
	for (size_t i = 0; i < file.n; i++) {
		const struct conf_entry *e = &file.v[i];

		must(e->section && e->key && *e->key && e->value);
		must(e->line >= 1 && e->line <= lines);
		profile_set(&p, e->section, e->key, e->value, &why);
	}
	text_free(&why);
	conf_file_free(&file);
	conf_report_free(&report);
	return 0;
}
