/* `yoke audit report`. */
#ifndef AUDIT_REPORT_H
#define AUDIT_REPORT_H

#include <stdbool.h>

struct audit_report_ask {
	const char *job;
	const char *home;    /* whose settings count; NULL: as settings.h says */
	const char *machine; /* a machine's file, for its settings instead; NULL */
	const char *out;     /* a new file; NULL: stdout */
	bool html;
	unsigned long limit; /* changes told of each comparison; 0: all */
};

/* Write the report. An exit status. */
int audit_report(const struct audit_report_ask *ask);

#endif
