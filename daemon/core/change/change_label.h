/*
 * Sequence numbers, and the words that lead to them: GOTO n, M99 Pn, M97 Pn, and P and Q of the
 * turning cycles G70 to G73 (common practice). With them a program that was numbered anew means the
 * same when its jumps were, and something else when they were not.
 */
#ifndef CHANGE_LABEL_H
#define CHANGE_LABEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "change_side.h"

/* The place where a run goes on at a sequence number. Small: a program may have millions. */
struct change_entry {
	uint32_t block;  /* the next block; as many as there are: the end */
	uint32_t rank;   /* common blocks before it */
	uint32_t before; /* blocks between the last of them and it */
	uint32_t after;  /* blocks from it on to the next common block; 0: it is common */
	bool lone;       /* the number stands on a line of its own, in front of the block */
};

#define CHANGE_LABEL_NONE UINT32_MAX

/* One word that leads to a block. */
struct change_ref {
	size_t block; /* where it stands */
	uint32_t part;
	uint32_t number;
	uint32_t place; /* of its digits in the block's canonical text */
	uint32_t digits;
	bool computed;              /* GOTO#1: it may lead to any number */
	bool returns;               /* M99 P: it leads into the program that called */
	bool called;                /* some program of the file does */
	uint64_t sign;              /* where it may lead, when it is computed or returns */
	struct change_entry target; /* block CHANGE_LABEL_NONE: the number is not there */
};

/* A call of a program by its number. */
struct change_call {
	size_t block;
	uint32_t part, number;
};

/* Of one program, in order. Zero-initialise. */
struct change_refs {
	struct change_ref *v;
	size_t n, cap;
	struct change_call *call;
	size_t calls, calls_cap;
	bool many; /* more than are looked at */
};

/*
 * Find all in a side whose blocks are marked as common or not, and where they lead: to the next
 * block with the number in the same program of the file, else to the first of it; M99 P into the
 * programs of the file that call its own (common practice). A number that stands alone on its line
 * belongs to the next block.
 * 0, -1 without memory.
 */
int change_label_find(const struct change_side *s, struct change_refs *out);
void change_label_free(struct change_refs *r);

/*
 * Whether two blocks, one of each side with their canonical texts, lead to the same blocks: as many
 * words, and each target is common with the other's or was changed in the same place. *numbers is
 * set when the blocks are the same to the letter but for the numbers of those words. True when
 * neither has such a word.
 */
bool change_label_same(const struct change_refs *ra, const struct change_side *a, size_t ia,
    const struct change_canon *ca, const struct change_refs *rb, const struct change_side *b,
    size_t ib, const struct change_canon *cb, bool *numbers);

/* True when two blocks are the same but for their sequence numbers, and blanks at the end. */
bool change_label_renumbered(struct change_span a, struct change_span b);

#endif
