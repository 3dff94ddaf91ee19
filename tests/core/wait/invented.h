/* Programs that a random generator makes up, as trees and as text. */
#ifndef INVENTED_H
#define INVENTED_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/text.h"

enum {
	ITEMS = 5, /* of a block */
	DEPTH = 2, /* blocks in blocks */
	SUBS = 3,  /* programs of a file */
	LOCALS = 34,
	EVENTS = 64,  /* of a run */
	ASKED = 10,   /* unknown conditions of a run */
	RUNS = 1024,  /* different runs of a channel */
	SWITCHES = 2, /* levels 1 and 2 */
};

/* What a program may hold; the profile of the round says what of it is in use. */
struct kind {
	int channels;
	bool partners, signals;
};

struct item {
	enum { WAIT, SEND, RECEIVE, SET, ADD, CALL, MACRO, IF_UNKNOWN, IF_KNOWN, LOOP } what;
	int slash, code, partners, local, value, repeat;
	int first, items; /* of the block inside */
};

struct unit {
	struct item item[64];
	int n, first, items; /* its outer block */
};

struct program {
	struct unit unit[SUBS];
};

/* A random number below n: the same ones in every run. */
uint32_t invented_below(uint32_t n);
/* The first item of the block inside i. */
const struct item *invented_block(const struct unit *u, const struct item *i);
/* A program for channel c. */
void invented_make(struct program *p, const struct kind *k, int c);
/* A small mistake somewhere; most leave the program as it was. */
void invented_spoil(struct program *p);
/* The program of channel 0 for channel c: what does not name it goes, signals are turned round. */
void invented_adapt(struct program *p, int c);
/* The program as text. */
void invented_write(const struct program *p, struct text *t);

#endif
