/* The only way into the trail. */
#ifndef VAULT_APPEND_H
#define VAULT_APPEND_H

#include "db.h"

/*
 * Give e the next seq, link it into the chain, store it and fold it, inside the transaction that
 * the caller has open. Fills e->seq; a queued event's order is its own seq. 0; -1 failed, told.
 */
int append(struct vault *v, struct event *e);

/* The last entry of the trail as the state has it, and its hash. 0; -1 failed, told. */
int append_end(struct vault *v, uint64_t *seq, struct sha *head);

struct entry;

/*
 * Append an entry that another vault holds, with the hash that it has there: 1; 0 it does not follow this
 * trail's end, or does not have that hash; -1 failed, told. Inside a transaction.
 */
int append_again(struct vault *v, const struct entry *en, const struct sha *hash);

#endif
