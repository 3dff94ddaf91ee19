/*
 * Runs of plain blocks, about which no rule has anything to say: taken at once. What a program
 * makes of them is what it would make of them one by one.
 */
#ifndef PROGRAM_PLAIN_H
#define PROGRAM_PLAIN_H

#include "nc.h"

struct program;

/* What is allowed in plain blocks by the profile alone. */
void program_plain_begin(struct program *p);

/* Tell the reader whether blocks may come in runs from here on: after each block read one by one.
 */
void program_plain_allow(struct program *p);

/* Take a run; for nc_reader_plain, with the program as its context. */
int program_plain_run(void *ctx, const struct nc_plain *run);

/* Add the text of one block to the program's print. */
void program_plain_print(struct program *p, const char *text, size_t n);

#endif
