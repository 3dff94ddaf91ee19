/* The rules that need all programs of a pair. Each adds findings to the report. */
#ifndef RULES_PAIR_H
#define RULES_PAIR_H

#include <stdbool.h>

struct pair_report;

/* Mates, job, revision, program number. Sets the report's job and revision. */
void rules_pair_identity(struct pair_report *r);

/* Optional stops in one channel only. */
void rules_pair_stops(struct pair_report *r);

/* The outcome of the proof: what fails, where in both programs, and the likeliest repair. */
void rules_pair_waits(struct pair_report *r);

#endif
