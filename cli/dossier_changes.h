/* What differs between the programs of a job, one after the other, as part of a report. */
#ifndef DOSSIER_CHANGES_H
#define DOSSIER_CHANGES_H

#include "dossier.h"
#include "yoke/profile.h"
#include "yoke/sheet.h"

/*
 * Add each difference by meaning: between every program that came in for a channel and the one before
 * it (another revision, or another content within one), and between what was carried to a machine and
 * what was found there. At most limit changes are told of each, the heaviest (0: all); all are counted.
 * The exit status: a program that could not be had is told on stderr and on the sheet.
 */
int dossier_changes(
    struct sheet *s, const struct dossier *d, const struct profile *profile, size_t limit);

#endif
