/* An entry of the trail as cells of a report's tables. */
#ifndef DOSSIER_WORDS_H
#define DOSSIER_WORDS_H

#include "dossier.h"
#include "yoke/sheet.h"

/* Begin a table of entries; then dossier_words_row for each. */
void dossier_words_table(struct sheet *s);

/* Number, time, kind and who, what and the programs. whole: with job's revision, machine and order
 * where they are not told by the heading above. */
void dossier_words_row(struct sheet *s, const struct dossier *d, const json_t *event, bool whole);

/* What it did to each channel's program, "upper P3:0123456789ab -> P4:ba9876543210", as lines of the
 * cell that was added last. */
void dossier_words_parts(struct sheet *s, const struct dossier *d, const json_t *event);

/* A time of the API as two lines of a cell: UTC, and the local time with its distance from UTC. */
void dossier_words_time(struct sheet *s, const char *rfc3339);

/* "P3:0123456789ab": which program, and the first digits of its SHA-256; "?" when it is none. */
void dossier_words_program(struct text *t, const struct dossier *d, const char *sha256);

/* How somebody stands for a pair: "despite RULE", or one of the API's two words that are no rule. */
void dossier_words_accepted(struct text *t, const char *rule);

#endif
