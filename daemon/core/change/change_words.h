/* What differs between two blocks, word by word, and of which kind each difference is. */
#ifndef CHANGE_WORDS_H
#define CHANGE_WORDS_H

#include <stdbool.h>
#include <stddef.h>
#include "change_canon.h"
#include "yoke/change.h"

enum { CHANGE_WORDS_MAX = 96 };

struct change_word {
	char letter; /* '/' block skip, '%' the mark, '#' a variable, '(' a call, '?' anything else
	              */
	bool flow;   /* calls, jumps, repeats, variables */
	enum change_kind kind;
	const char *s; /* with its letter; points into the canonical text */
	size_t n;
};

struct change_block {
	struct change_word word[CHANGE_WORDS_MAX];
	size_t words;
};

/* The words that only one of two blocks has. */
struct change_words {
	struct change_block old_block, new_block;
	unsigned kinds;          /* a bit for each kind that occurs */
	bool none_old, none_new; /* there was no such block */
};

/* Cut a canonical text into words. What is beyond CHANGE_WORDS_MAX words stays in the last one. */
void change_words_cut(const char *s, size_t n, struct change_block *out);

/*
 * Take away the words that both have and say of which kind the others are. Either may be NULL: the
 * block is new, or gone. kinds is 0 when only the order of words differs. The texts must outlive
 * the result.
 */
void change_words_compare(const struct profile *p, const struct change_canon *old_canon,
    const struct change_canon *new_canon, struct change_words *out);

/* "feed F0.2 -> F0.25" for one of the kinds. */
void change_words_say(const struct change_words *w, enum change_kind kind, struct text *out);

/* "wait code M202", the words of one kind of a block that stands in the new program alone. */
void change_words_list(const struct change_words *w, enum change_kind kind, struct text *out);

/* How alike two blocks are: 0, nothing in common; more for each letter and most for each word.
 * Symmetric. */
unsigned change_words_alike(const struct change_block *a, const struct change_block *b);

#endif
