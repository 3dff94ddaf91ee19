/*
 * The form in which what was sent and what came back are compared. A control may add or change what
 * carries no meaning: leader and trailer, filler, the form of line ends, blanks at line ends,
 * blocks that are empty at either end. Nothing inside a block is changed.
 */
#ifndef CANONICAL_H
#define CANONICAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Plain data; zero-initialise, or fill by canonical_make. */
struct canonical {
	uint8_t *bytes; /* each line ended by one LF, the last one too; NULL when size is 0 */
	size_t size;
	uint64_t nuls;        /* NULs inside the body: damage. They stay in bytes */
	uint64_t damage_line; /* line of the first of them in bytes, from 1; 0: none */
};

/*
 * Make the canonical form of a program's size bytes: without NUL, DEL, DC1..DC4 and Ctrl-Z before
 * the first and after the last character of the text, and between a line that begins with % and the
 * next % (one text ended there, another begins); without DEL at the ends of lines; a line end
 * (LF with any CRs next to it, or CRs alone) is LF; no blanks or tabs at line ends; no empty lines
 * at the ends. Linear in time; memory of the size of the program. Returns 0 and the caller frees
 * with canonical_free, or -1 when memory ran out (*c is then empty).
 */
int canonical_make(struct canonical *c, const void *program, size_t size);

/* Free and zero. */
void canonical_free(struct canonical *c);

/* 0 when both are byte for byte the same, else the number of the first line that differs, from 1.
 */
uint64_t canonical_difference(const struct canonical *a, const struct canonical *b);

#endif
