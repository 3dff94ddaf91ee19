/* What the files of verify share. Inside the vault only. */
#ifndef VAULT_VERIFY_H
#define VAULT_VERIFY_H

#include "db.h"
#include "endnote.h"
#include "tree.h"
#include "vault_seal.h"
#include "yoke/text.h"

/* The walk along the checkpoints, beside that along the entries. */
struct verify_seal {
	struct tree_edge edge;        /* over the entries so far */
	sqlite3_stmt *nodes, *points; /* the rows to come */
	bool more;                    /* the next checkpoint is there: */
	struct checkpoint next;
	struct text text; /* its note */
	struct note note;
	struct note_key key, before; /* in force, and before that */
	bool has_key, has_before;
	uint64_t keyed; /* the entry that made it so */
};

struct verify {
	struct vault *v, *scratch;
	struct vault_verdict *out;
	struct endnote told; /* beside the vault */
	uint64_t lost;       /* arrivals of programs that a repair could not save */
	char missing[160]; /* the first program that an entry names and nobody has; "" for none */
	struct verify_seal seal;
};

/* Say what does not fit, and the first entry that does not, 0 for none; 1, which ends the search. */
int verify_bad(struct verify *c, uint64_t seq, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/*
 * Tree, keys and checkpoints. Begin; then after each entry that fits the chain; then at the end of the
 * trail, when that is where it says. Each: 0 it fits, 1 it does not (said), -1 failed. Done in any case.
 */
int verify_seal_begin(struct verify *c);
int verify_seal_entry(struct verify *c, const struct event *e, const struct sha *leaf);
int verify_seal_end(struct verify *c);
void verify_seal_done(struct verify *c);

#endif
