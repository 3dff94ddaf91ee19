#include "tree.h"

#include <assert.h>
#include <string.h>
#include "hash.h"

unsigned tree_ends(uint64_t number)
{
	return number ? (unsigned)__builtin_ctzll(number) + 1 : 0;
}

void tree_leaf(struct hash *h)
{
	hash_start(h);
	hash_add(h, "\0", 1);
}

int tree_node(struct hash *h, const struct sha *left, const struct sha *right, struct sha *out)
{
	unsigned char both[1 + 2 * YOKE_SHA_SIZE] = {1};

	memcpy(both + 1, left->b, YOKE_SHA_SIZE);
	memcpy(both + 1 + YOKE_SHA_SIZE, right->b, YOKE_SHA_SIZE);
	hash_start(h);
	hash_add(h, both, sizeof(both));
	return hash_end(h, out);
}

int tree_add(struct hash *h, struct tree_edge *edge, const struct sha *leaf, struct sha *ended)
{
	unsigned n = tree_ends(edge->size + 1);

	assert(edge->size < UINT64_MAX >> 1);
	ended[0] = *leaf;
	for (unsigned level = 1; level < n; level++)
		if (tree_node(h, &edge->node[level - 1], &ended[level - 1], &ended[level]) < 0)
			return -1;
	edge->node[n - 1] = ended[n - 1];
	edge->size++;
	return 0;
}

int tree_root(struct hash *h, const struct tree_edge *edge, struct sha *out)
{
	bool any = false;

	for (unsigned level = 0; level < TREE_LEVELS; level++) {
		if (!(edge->size >> level & 1))
			continue;
		if (!any)
			*out = edge->node[level];
		else if (tree_node(h, &edge->node[level], out, out) < 0)
			return -1;
		any = true;
	}
	if (any)
		return 0;
	hash_start(h);
	return hash_end(h, out);
}

/* The largest power of two below n, n > 1. */
static uint64_t split(uint64_t n)
{
	return UINT64_C(1) << (63 - __builtin_clzll(n - 1));
}

/* The tree over n leaves behind the first so many, which end where a subtree of at least n would. */
static int range(const struct tree *t, uint64_t first, uint64_t n, struct sha *out)
{
	bool any = false;

	/* From its right end: the complete subtrees grow to the left. */
	while (n > 0) {
		unsigned level = (unsigned)__builtin_ctzll(n);
		struct sha node;

		if (t->node(t->ctx, first + n, level, any ? &node : out) < 0)
			return -1;
		if (any && tree_node(t->hash, &node, out, out) < 0)
			return -1;
		any = true;
		n &= n - 1;
	}
	return 0;
}

int tree_root_of(const struct tree *t, uint64_t size, struct sha *out)
{
	if (size > 0)
		return range(t, 0, size, out);
	hash_start(t->hash);
	return hash_end(t->hash, out);
}

static void turn_round(struct sha *path, size_t n)
{
	for (size_t i = 0; i < n / 2; i++) {
		struct sha other = path[i];

		path[i] = path[n - 1 - i];
		path[n - 1 - i] = other;
	}
}

/* Both proofs go down the tree to where they begin; what they pass by on the other side is the path,
 * which is told from below. */
int tree_path(const struct tree *t, uint64_t number, uint64_t size, struct sha *path, size_t *n)
{
	uint64_t first = 0, m = number - 1;

	assert(number > 0 && number <= size);
	*n = 0;
	while (size > 1) {
		uint64_t k = split(size);
		bool left = m < k;

		if (range(t, left ? first + k : first, left ? size - k : k, &path[(*n)++]) < 0)
			return -1;
		first += left ? 0 : k;
		m -= left ? 0 : k;
		size = left ? k : size - k;
	}
	turn_round(path, *n);
	return 0;
}

int tree_consistency(
    const struct tree *t, uint64_t old, uint64_t size, struct sha *path, size_t *n)
{
	uint64_t first = 0, m = old;

	assert(old > 0 && old <= size);
	*n = 0;
	while (m != size) {
		uint64_t k = split(size);
		bool left = m <= k;

		if (range(t, left ? first + k : first, left ? size - k : k, &path[(*n)++]) < 0)
			return -1;
		first += left ? 0 : k;
		m -= left ? 0 : k;
		size = left ? k : size - k;
	}
	/* Who checks it knows the old root: it is left out when it is where the proof begins. */
	if (first > 0 && range(t, first, m, &path[(*n)++]) < 0)
		return -1;
	turn_round(path, *n);
	return 0;
}
