/* The report of one job for an auditor, as a sheet of paper. */
#ifndef DOSSIER_SHEET_H
#define DOSSIER_SHEET_H

#include "dossier.h"
#include "yoke/profile.h"
#include "yoke/sheet.h"

struct dossier_sheet_ask {
	const char *job;
	const char *settings;          /* which those are by which programs are compared, in words */
	const struct profile *profile; /* they themselves */
	size_t limit;                  /* changes told of each comparison; 0: all */
};

/* Write the report onto the sheet. Each entry of d->events stands there once. The exit status. */
int dossier_sheet(struct sheet *s, const struct dossier *d, const struct dossier_sheet_ask *ask);

#endif
