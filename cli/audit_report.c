#include "audit_report.h"

#include "dossier.h"
#include "dossier_sheet.h"
#include "exit.h"
#include "new_file.h"
#include "out.h"
#include "settings.h"

enum { FILE_WIDTH = 80 };

static int write_sheet(const struct sheet *s, const struct audit_report_ask *ask)
{
	struct text t = {0};

	if (ask->html)
		sheet_html(s, &t);
	else
		sheet_print(s, ask->out ? FILE_WIDTH : out_width(), &t);
	if (ask->out)
		return new_file_write(ask->out, &t);
	out_text(&t);
	return EXIT_DONE;
}

int audit_report(const struct audit_report_ask *ask)
{
	struct profile profile;
	struct dossier d = {0};
	struct sheet s = {0};
	int status, written, read = settings_profile(ask->home, ask->machine, NULL, &profile);

	if (read < 0)
		return EXIT_USE;
	status = dossier_read(&d, ask->job);
	if (status == EXIT_DONE) {
		status = dossier_sheet(
		    &s, &d, &(struct dossier_sheet_ask){ask->job,
		                ask->machine ? ask->machine
		                : read       ? "the default settings: the shop's could not be read"
		                             : "the shop's settings",
		                &profile, ask->limit});
		written = write_sheet(&s, ask);
		if (status == EXIT_DONE)
			status = written;
	}
	sheet_free(&s);
	dossier_free(&d);
	return status;
}
