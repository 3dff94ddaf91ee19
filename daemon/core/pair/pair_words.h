/* The outcome of a proof in words, for findings, summary and ladder alike. */
#ifndef PAIR_WORDS_H
#define PAIR_WORDS_H

#include "yoke/text.h"

struct pair_report;
struct wait_place;
struct wait_rung;

/* The block-skip switches of the run shown: "off", "on", "/2 on", "on in lower". */
void pair_words_switches(const struct pair_report *r, struct text *t);

/* The rung at which the run shown fails, or NULL: where it does not, or where a program cannot be
 * read. */
const struct wait_rung *pair_words_failed_rung(const struct pair_report *r);

/* "wait 2: upper M202 (line 40), lower M203 (line 31): both stand for ever", with the switches and
 * the conditions on unknown data that lead there. Nothing without failure. */
void pair_words_failure(const struct pair_report *r, struct text *t);

/* "likeliest repair: add M202 to lower between line 20 and line 31". Nothing without failure. */
void pair_words_repair(const struct pair_report *r, struct text *t);

/* "line 40", with the file in front where it is not the lane's program's own. */
void pair_words_line(
    const struct pair_report *r, int lane, const struct wait_place *at, struct text *t);

/* One line: the verdict and why. */
void pair_words_outcome(const struct pair_report *r, struct text *t);

#endif
