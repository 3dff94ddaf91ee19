/*
 * The one output writer: what the terminal can show, and errors of writing. Everything for stdout
 * goes through here or through stdio's stdout; out_finish decides at the end whether it arrived.
 */
#ifndef OUT_H
#define OUT_H

#include <jansson.h>
#include <stdbool.h>
#include "yoke/text.h"

/* Look at locale, terminal and environment (NO_COLOR, TERM, COLUMNS). Call once, first. */
void out_start(void);

/* Columns of the terminal, COLUMNS, or 80. */
unsigned out_width(void);

/* True when nothing beyond ASCII may be written. */
bool out_ascii(void);

/* Write a string, or a text, which is freed. Weights at the beginning of messages are coloured on a
 * terminal. */
void out_string(const char *s);
void out_text(struct text *t);

/* Write prose of one paragraph, broken into lines at blanks, each indented by so many columns. */
void out_prose(const char *s, unsigned indent);

/* As out_text, for a text of whole lines: on a terminal long ones are broken at blanks. */
void out_lines(struct text *t);

/* Write a JSON value with a line end, and release it; NULL (no memory) is an error that out_finish
 * reports. */
void out_json(json_t *o);

/* "yoke: ..." on stderr; arguments are made visible. */
void out_error(const char *format, ...) __attribute__((format(printf, 1, 2)));

/*
 * Flush. Returns status when everything was written or the reader went away (a closed pipe is its
 * choice); otherwise says what went wrong and returns EXIT_USE.
 */
int out_finish(int status);

#endif
