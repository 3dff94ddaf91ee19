/*
 * A control that executes what it reads, block by block, and stores nothing: drip feed. It moves
 * nothing either; it counts blocks and keeps what it executed, for whoever looks later.
 *
 * Rules, common practice: what stands before the first `%` or end of block is leader; a block is
 * executed when its end was read; M02 or M30 ends the program, and the reader is stopped there; so
 * does a closing `%`. What stands between parentheses is no word.
 */
#ifndef BENCH_EXECUTE_H
#define BENCH_EXECUTE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "code.h"

enum execute_answer {
	EXECUTE_MORE,    /* go on */
	EXECUTE_END,     /* M02 or M30 was executed, or the closing % read */
	EXECUTE_PARITY,  /* wrong parity, or no character of this code */
	EXECUTE_TROUBLE, /* the bench has no memory left */
};

/* Zero-initialise; fields are for reading. */
struct execute {
	enum code code;
	bool begun;      /* more than leader has come */
	uint64_t blocks; /* executed: with a word in them */
	char *text;      /* all blocks that were executed, as they were read, LF behind each */
	size_t n, cap;
	char *block; /* the one being read */
	size_t block_n, block_cap;
};

/* A new program begins. */
void execute_start(struct execute *e, enum code code);

/* One character. After anything but EXECUTE_MORE it is over. */
enum execute_answer execute_take(struct execute *e, uint8_t byte);

void execute_free(struct execute *e);

#endif
