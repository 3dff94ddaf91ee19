/* What the rules ask of a block, found in one look at its words. */
#ifndef FACTS_H
#define FACTS_H

#include <stdbool.h>
#include <stdint.h>
#include "nc.h"
#include "yoke/profile.h"

struct facts {
	const struct nc_word *wait;    /* first wait code that is a word, or NULL */
	const struct nc_word *number;  /* O or : where a program number or name stands, or NULL */
	const struct nc_word *stray;   /* O or : elsewhere in the block, or NULL */
	const struct nc_word *inner;   /* N behind another word, or NULL */
	const struct nc_word *doubled; /* a letter that stood in the block before, or NULL */
	const struct nc_word *gap;     /* blanks inside its number, or NULL */
	const struct nc_word *stop;    /* M01, or NULL */
	const struct nc_word *end;     /* M02 or M30, or NULL */
	const struct nc_word *sub_end; /* M99, or NULL */
	unsigned waits;                /* wait codes in the block, a wait call among them */
	unsigned others;  /* words that are neither a wait code, with its partners, nor N, nor a
	                     program  number */
	bool motion;      /* a dimension word stands in the block */
	bool local_call;  /* M97: a call of a block in the same program (common practice) */
	int compensation; /* 1: G41 or G42, -1: G40, 0: neither */
	int per_turn;     /* 1: G95, -1: G94, 0: neither (ISO 6983-1) */
	bool macro_call;  /* G65 or G66, also G66.1: words are arguments (common practice) */
	bool cycle;       /* G73 or G80 to G89: K and R may be counts (common practice) */
};

/* Look at one block. Words point into the block. */
void facts_read(struct facts *f, const struct profile *profile, const struct nc_block *b);

#endif
