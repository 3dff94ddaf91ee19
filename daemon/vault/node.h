/*
 * The tree over the trail as the vault keeps it: the row of an entry holds the complete subtrees that end
 * with it, the lowest first, 32 bytes each. An entry more is one row and, on average, one look at an
 * earlier row; any root and any proof are a few dozen looks. Inside the vault only.
 */
#ifndef VAULT_NODE_H
#define VAULT_NODE_H

#include "db.h"
#include "tree.h"

/* Put the leaf of entry seq, whose predecessors are there, into the tree. 0; -1 failed, told. */
int node_add(struct vault *v, uint64_t seq, const struct sha *leaf);

/* The tree, as tree.h asks for it; what cannot be had is told. */
struct tree node_tree(struct vault *v);

#endif
