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

/* One word that leads to a block. */
struct change_ref {
	size_t block; /* where it stands */
	uint32_t number;
	uint32_t place; /* of its digits in the block's canonical text */
	uint32_t digits;
	size_t target; /* the block with that number; CHANGE_LABEL_NONE: there is none */
	size_t rank;   /* common blocks before the target */
};

#define CHANGE_LABEL_NONE ((size_t)-1)

/* Of one program, in order. Zero-initialise. */
struct change_refs {
	struct change_ref *v;
	size_t n, cap;
	bool many; /* more than are looked at */
};

/*
 * Find all in a side whose blocks are marked as common or not, and where they lead: to the next
 * block with the number in the same program of the file, else to the first of it (common practice).
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
