/*
 * The rules of a pair. Each function looks at one theme and adds findings; each finding's meaning
 * is in include/yoke/finding.h. The *_block functions are called for every block up to the closing
 * %, the *_finish functions once, when the file was read.
 */
#ifndef RULES_H
#define RULES_H

#include <stddef.h>
#include "facts.h"
#include "program_state.h"

struct pair_report;

/*
 * The file as a whole: %, ends, cut-off, framing, line ends, size. after_close counts blocks behind
 * the closing %, where a control no longer reads.
 */
void rules_file_block(struct program *p, const struct nc_block *b, const struct facts *f);
void rules_file_after_close(struct program *p, const struct nc_block *b);
void rules_file_finish(struct program *p);
/* True when the bytes are 7-bit text with parity: then nothing else in the file means anything. */
bool rules_file_framing(struct program *p);
/* True when the file looks cut off; told by rules_file_finish. */
bool rules_file_cut_off(const struct program *p);

/* Characters, comments, block length, sequence numbers. */
void rules_text_block(struct program *p, const struct nc_block *b);

/* Decimal points, forbidden words, optional stops. */
void rules_word_block(struct program *p, const struct nc_block *b, const struct facts *f);
void rules_word_finish(struct program *p);

/* Program numbers. False without memory. */
bool rules_number_block(struct program *p, const struct nc_block *b, const struct facts *f);
void rules_number_finish(struct program *p);

/* Wait codes in their block: alone, last, under compensation, uncertain. */
void rules_wait_block(struct program *p, const struct nc_block *b, const struct facts *f);
void rules_wait_finish(struct program *p);

#endif
