/*
 * The Merkle tree over the entries of the trail, as in RFC 6962 section 2.1 = RFC 9162 section 2.1:
 *
 *   of nothing          SHA-256()
 *   of one leaf d       SHA-256(00 || d)
 *   of n > 1 leaves     SHA-256(01 || tree of the first k || tree of the others),
 *                       k the largest power of two below n
 *
 * Leaves are counted from 1 here, as the entries of the trail are: a subtree is named by the last of
 * its leaves and by its level, 2^level being their number. Only complete subtrees are ever kept: leaf
 * number n ends one of each level from 0 up to the number of zero bits at the end of n.
 */
#ifndef SEAL_TREE_H
#define SEAL_TREE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/event.h"

struct hash;

enum {
	TREE_LEVELS = 64,   /* of a tree of at most 2^63 leaves */
	TREE_PATH_MAX = 65, /* hashes in a proof: RFC 9162 2.1.3, 2.1.4 */
};

/* The right edge: node[i] is the complete subtree of level i where bit i of size is set. Zeroed, it is
 * the tree of nothing. */
struct tree_edge {
	uint64_t size;
	struct sha node[TREE_LEVELS];
};

/* How many complete subtrees the leaf of this number (from 1) ends, itself included. */
unsigned tree_ends(uint64_t number);

/* Begin a leaf's hash; its bytes are added with hash_add, and hash_end gives the leaf. */
void tree_leaf(struct hash *h);

/* The node over two. 0; -1 when libcrypto failed. out may be one of the two. */
int tree_node(struct hash *h, const struct sha *left, const struct sha *right, struct sha *out);

/*
 * One leaf more. ended: the tree_ends(edge->size after it) complete subtrees that it ends, the lowest
 * first; TREE_LEVELS fit. 0; -1 when libcrypto failed: the edge is of no use then.
 */
int tree_add(struct hash *h, struct tree_edge *edge, const struct sha *leaf, struct sha *ended);

/* The root of what was added. 0, -1. */
int tree_root(struct hash *h, const struct tree_edge *edge, struct sha *out);

/* Where complete subtrees are kept: the one of this level whose last leaf has this number. 0; -1 it
 * cannot be had, which is told by whoever looks it up. */
typedef int tree_fn(void *ctx, uint64_t last, unsigned level, struct sha *out);

/* A tree whose complete subtrees are kept somewhere; all that is asked of it takes O(log n) of them, or
 * their square. */
struct tree {
	struct hash *hash;
	tree_fn *node;
	void *ctx;
};

/* The root of the first size leaves. 0, -1. */
int tree_root_of(const struct tree *t, uint64_t size, struct sha *out);

/*
 * The inclusion proof of leaf number (1 to size) in the tree of size leaves, RFC 9162 2.1.3.1. path
 * takes TREE_PATH_MAX hashes, *n is how many there are. 0, -1.
 */
int tree_path(const struct tree *t, uint64_t number, uint64_t size, struct sha *path, size_t *n);

/*
 * The consistency proof from the tree of the first old leaves (1 to size) to that of size, RFC 9162
 * 2.1.4.1. As tree_path.
 */
int tree_consistency(
    const struct tree *t, uint64_t old, uint64_t size, struct sha *path, size_t *n);

/*
 * Whether a path proves that leaf is number (from 1) of the tree of size leaves with this root, RFC 9162
 * 2.1.3.2. Any numbers and paths may be given. 1 it does, 0 it does not, -1 libcrypto failed.
 */
int tree_check_path(struct hash *h, const struct sha *leaf, uint64_t number, uint64_t size,
    const struct sha *path, size_t n, const struct sha *root);

/* Whether a path proves that the tree of old leaves is the beginning of that of size, RFC 9162 2.1.4.2.
 * The tree of nothing proves nothing. As tree_check_path. */
int tree_check_consistency(struct hash *h, uint64_t old, uint64_t size, const struct sha *old_root,
    const struct sha *root, const struct sha *path, size_t n);

#endif
