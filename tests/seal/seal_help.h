/* What the tests of the seal share: hexadecimal, and a small tree with all its subtrees. */
#ifndef SEAL_HELP_H
#define SEAL_HELP_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <string.h>
#include "hash.h"
#include "tree.h"

/* Bytes of hexadecimal digits; how many. */
size_t seal_bytes(const char *hex, unsigned char *out);

/* SHA-256 of 00 and the bytes, by libcrypto's one-shot function. */
struct sha seal_leaf(const void *bytes, size_t n);

enum { SEAL_LEAVES = 300 };

/* A tree that was grown leaf by leaf, with every complete subtree that its leaves ended. */
struct seal_grown {
	struct hash *h;
	struct tree_edge edge;
	struct sha leaf[SEAL_LEAVES];
	struct sha kept[SEAL_LEAVES + 1][16]; /* by the last leaf's number and the level */
	unsigned asked;                       /* how many subtrees were looked up */
};

/* Grown to n leaves, the i-th of them (from 0) seal_leaf of i as two bytes. */
void seal_grow(struct seal_grown *g, uint64_t n);
void seal_add(struct seal_grown *g, const struct sha *leaf);
void seal_end(struct seal_grown *g);

/* The same as who keeps the subtrees somewhere sees it. */
struct tree seal_tree(struct seal_grown *g);

#endif
