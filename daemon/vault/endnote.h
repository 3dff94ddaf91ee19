/*
 * Where the trail ends, told beside the vault: PATH.end is one line of 94 bytes,
 *
 *   SEQ in 20 digits, blank, hash of that entry in 64 hexadecimal digits, blank, sum in 7, line end
 *
 * (the sum: the first digits of the SHA-256 of what stands before it). It is written, not flushed, after each
 * commit that added entries, so that it never tells of more than is durable. A vault that lacks what it tells
 * has lost its write-ahead log, or is an older copy: both are whole in themselves, and nothing in them
 * could show it. Inside the vault only.
 */
#ifndef VAULT_ENDNOTE_H
#define VAULT_ENDNOTE_H

#include "db.h"

enum { ENDNOTE_SIZE = 94 };

struct endnote {
	uint64_t seq; /* 0: nothing is told */
	struct sha head;
};

/* What is told beside the vault at path. One that is missing or damaged tells nothing. */
void endnote_read(const char *path, struct endnote *out);

/* Write it for a vault that nobody has open. 0; -1 with errno. */
int endnote_put(const char *path, const struct endnote *e);

/*
 * Open it for a vault that is about to be served: what it tells must be there. fresh: the file was just made.
 * 0; -1 it is not, told.
 */
int endnote_open(struct vault *v, bool fresh);

/* The trail was continued inside the open transaction; the transaction was committed; it was not. */
void endnote_moved(struct vault *v, uint64_t seq, const struct sha *head);
void endnote_done(struct vault *v);
void endnote_undone(struct vault *v);

/* Close it. */
void endnote_close(struct vault *v);

#endif
