/*
 * Several programs in one text: an operator has all programs punched, or a file holds a main
 * program with its subprograms. All texts here are canonical (canonical.h).
 *
 * A block that begins with % parts a text into sections; two that follow one another may share one.
 * A program begins with a block whose first word is its number, O or : and digits, blanks allowed;
 * also directly behind a %. It ends before the next one, or the next %. What stands in a section
 * before the first number is a part without a number. What stands behind the last % is none: device
 * servers speak there.
 *
 * A control keeps programs by their numbers and punches them in an order of its own. So numbers are
 * compared as numbers, and of what came the programs are put together that were expected.
 *
 * Sources: program number and % as in ISO 6983-1; several programs between two % is common practice
 * of tapes, and so is what a control does with their order.
 */
#ifndef SEVERAL_H
#define SEVERAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
	SEVERAL_MOST = 2000, /* parts of one text; what follows belongs to the last. More than the
	                        programs of any control */
	SEVERAL_NAME = 24,   /* bytes of a number as a name, the NUL included */
};

struct several_part {
	size_t at, size; /* in the text, ends of block included, empty blocks at its end not */
	uint64_t line;   /* of its first block, from 1 */
	bool numbered;
	uint64_t number;
};

/* The program number that a block of n characters begins with. False when it begins with none. */
bool several_number(const uint8_t *block, size_t n, uint64_t *number);

/* Zero-initialise, or fill by several_read. */
struct several {
	const uint8_t *text; /* the caller's */
	struct several_part *part;
	size_t parts;
	size_t percents; /* blocks that begin with % */
	size_t end; /* bytes up to the last %, its block included; all where there are not two */
	uint64_t behind; /* characters behind that, blanks and ends of block apart */
	bool cut;        /* a section was begun and has no closing % */
};

/*
 * Take the text apart (n bytes, which must live as long as *s). Linear in time. 0 and the caller
 * frees, or -1 without memory (*s is then empty).
 */
int several_read(struct several *s, const uint8_t *text, size_t n);
void several_free(struct several *s);

enum several_way {
	SEVERAL_ALL = 0, /* every part that was expected came */
	SEVERAL_SOME,    /* not every one */
	SEVERAL_NONE,    /* none of them */
	SEVERAL_TWICE,   /* a number that was expected came twice with different text, or was
	                    expected twice: nothing is guessed */
};

/* Zero-initialise, or fill by several_match. */
struct several_match {
	enum several_way way;
	bool numbered; /* SOME, NONE, TWICE: of the first part that is missing, or in question */
	uint64_t number;
	uint64_t line; /* SOME, ALL: the first line of what was expected that came otherwise or not
	                  at all, from 1; 0: everything is equal */
	bool plain;    /* the parts that came are the ones that were expected, in that order */
	bool *used;    /* for each part that came: it is one that was expected */
	uint8_t *text; /* what was expected, as it came, in the expected order, between the %
	                  that were expected; NULL with NONE and TWICE */
	size_t size;
};

/* Find what was expected among what came. 0 and the caller frees; -1 without memory (*m is then
 * empty). */
int several_match(
    struct several_match *m, const struct several *expected, const struct several *came);
void several_match_free(struct several_match *m);

/* A part's number as people write it, "O0417"; "" when it has none. */
void several_name(const struct several_part *p, char out[SEVERAL_NAME]);

/* The names of the parts that are not in skip (NULL: of all), "O0001, O9001 and 3 more", into out
 * of size bytes, of which it takes what it needs. How many there are. */
size_t several_names(const struct several *s, const bool *skip, char *out, size_t size);

#endif
