#include "seal_help.h"

#include <openssl/sha.h>
#include <stdio.h>

size_t seal_bytes(const char *hex, unsigned char *out)
{
	size_t n = strlen(hex) / 2;

	for (size_t i = 0; i < n; i++) {
		unsigned x;

		assert_int_equal(sscanf(hex + 2 * i, "%2x", &x), 1);
		out[i] = (unsigned char)x;
	}
	return n;
}

struct sha seal_leaf(const void *bytes, size_t n)
{
	unsigned char all[1000] = {0};
	struct sha out;

	assert_true(n < sizeof(all));
	if (n)
		memcpy(all + 1, bytes, n);
	SHA256(all, n + 1, out.b);
	return out;
}

void seal_add(struct seal_grown *g, const struct sha *leaf)
{
	struct sha ended[TREE_LEVELS];
	uint64_t number = g->edge.size + 1;

	assert_true(number <= SEAL_LEAVES);
	assert_int_equal(tree_add(g->h, &g->edge, leaf, ended), 0);
	assert_int_equal(g->edge.size, number);
	g->leaf[number - 1] = *leaf;
	memcpy(g->kept[number], ended, tree_ends(number) * sizeof(*ended));
}

void seal_grow(struct seal_grown *g, uint64_t n)
{
	memset(g, 0, sizeof(*g));
	g->h = hash_new();
	assert_non_null(g->h);
	for (uint64_t i = 0; i < n; i++) {
		unsigned char two[2] = {(unsigned char)(i >> 8), (unsigned char)i};
		struct sha leaf = seal_leaf(two, 2);

		seal_add(g, &leaf);
	}
}

void seal_end(struct seal_grown *g)
{
	hash_free(g->h);
	memset(g, 0, sizeof(*g));
}

static int find(void *ctx, uint64_t last, unsigned level, struct sha *out)
{
	struct seal_grown *g = ctx;

	assert_true(last > 0 && last <= g->edge.size);
	assert_true(level < tree_ends(last));
	g->asked++;
	*out = g->kept[last][level];
	return 0;
}

struct tree seal_tree(struct seal_grown *g)
{
	return (struct tree){g->h, find, g};
}
