/* What the tests of records and of machines say and ask. */
#ifndef RECORD_HELP_H
#define RECORD_HELP_H

#include "vault_help.h"

typedef uint64_t record_fn(struct vault *, const struct vault_by *, const struct vault_about *);

/* The newest entry and its texts: who, from, machine, job, revision, outcome, text, detail, kind.
 */
extern struct event record_help_last;
extern char record_help_text[9][200];

/* Record, which must succeed: its seq. */
uint64_t record_help_say(struct bench *b, record_fn *fn, const struct vault_about *a);

/* Record, which must be refused with these words and leave nothing behind. */
void record_help_refused(
    struct bench *b, record_fn *fn, const struct vault_about *a, const char *why);

void record_help_parts(
    const struct vault_part *got, uint32_t n, const struct event_part *want, uint32_t wants);
void record_help_holds(struct bench *b, enum vault_content content, const char *job,
    const char *revision, const struct event_part *part, uint32_t parts);

/* Reads the newest entry, and compares it. */
int record_help_keep(void *ctx, const struct event *e, const struct sha *hash);
void record_help_newest(struct bench *b, const char *kind, const char *machine, const char *job,
    const char *revision, uint64_t order);

#endif
