/*
 * What the check has to say, for editors and build servers: the Static Analysis Results Interchange
 * Format (OASIS SARIF 2.1.0).
 *
 * One run of the tool "Yoke": every finding there is as a rule, id and index being those of
 * yoke/finding.h; what was found as results, refuse as error, warn as warning, note as note; the
 * files with their SHA-256; weights that the machine's profile sets otherwise as overrides of the
 * invocation. Verdict, job, revision and the caution are properties of the run, channel and remedy
 * of a result. What concerns the pair as a whole has no location.
 *
 * Columns of findings are bytes. SARIF counts characters, so the files are declared to be ISO
 * 8859-1, in which each byte is one: a viewer that honours defaultEncoding shows the right place
 * also behind a character that is not ASCII.
 */
#ifndef REPORT_SARIF_H
#define REPORT_SARIF_H

#include "report_json.h"

/* A new reference, or NULL when memory runs out. */
json_t *report_sarif_pair(const struct profile *profile, const struct pair_report *report,
    const struct report_json_program *programs, size_t n);

#endif
