/*
 * Goal: the tree is that of RFC 6962 section 2.1 = RFC 9162 section 2.1, and so are its proofs. They are
 * held against the reference leaves that open implementations of the RFC share (roots and paths in
 * hexadecimal), and against the RFC's recursive definitions, written here as they stand there, for every
 * size up to 130 and every leaf; and nothing that was changed is taken.
 */
#include <openssl/sha.h>
#include "seal_help.h"

enum { SIZES = 130 };

/* --- The RFC's definitions, as they stand there --- */

static uint64_t largest_power_below(uint64_t n)
{
	uint64_t k = 1;

	while (k * 2 < n)
		k *= 2;
	return k;
}

static struct sha both(struct sha left, struct sha right)
{
	unsigned char all[65] = {1};
	struct sha out;

	memcpy(all + 1, left.b, 32);
	memcpy(all + 33, right.b, 32);
	SHA256(all, sizeof(all), out.b);
	return out;
}

/* MTH(D[n]), 2.1.1; d are the leaves' hashes. */
static struct sha mth(const struct sha *d, uint64_t n)
{
	uint64_t k;
	struct sha nothing;

	if (n == 0) {
		SHA256((const unsigned char *)"", 0, nothing.b);
		return nothing;
	}
	if (n == 1)
		return d[0];
	k = largest_power_below(n);
	return both(mth(d, k), mth(d + k, n - k));
}

/* PATH(m, D[n]), 2.1.3.1: appended to path. */
static void rfc_path(uint64_t m, const struct sha *d, uint64_t n, struct sha *path, size_t *at)
{
	uint64_t k;

	if (n == 1)
		return;
	k = largest_power_below(n);
	if (m < k) {
		rfc_path(m, d, k, path, at);
		path[(*at)++] = mth(d + k, n - k);
	} else {
		rfc_path(m - k, d + k, n - k, path, at);
		path[(*at)++] = mth(d, k);
	}
}

/* SUBPROOF(m, D[n], b), 2.1.4.1. */
static void rfc_subproof(
    uint64_t m, const struct sha *d, uint64_t n, bool b, struct sha *path, size_t *at)
{
	uint64_t k;

	if (m == n) {
		if (!b)
			path[(*at)++] = mth(d, m);
		return;
	}
	k = largest_power_below(n);
	if (m <= k) {
		rfc_subproof(m, d, k, b, path, at);
		path[(*at)++] = mth(d + k, n - k);
	} else {
		rfc_subproof(m - k, d + k, n - k, false, path, at);
		path[(*at)++] = mth(d, k);
	}
}

/* --- The reference leaves --- */

static void assert_hex(const struct sha *got, const char *hex)
{
	unsigned char want[32];

	assert_int_equal(seal_bytes(hex, want), 32);
	assert_memory_equal(got->b, want, 32);
}

static void assert_path(const struct sha *path, size_t n, const char *const *hex)
{
	for (size_t i = 0; i < n; i++) {
		assert_non_null(hex[i]);
		assert_hex(&path[i], hex[i]);
	}
	assert_null(hex[n]);
}

static const char *const reference_leaf[8] = {"", "00", "10", "2021", "3031", "40414243",
    "5051525354555657", "606162636465666768696a6b6c6d6e6f"};
static const char *const reference_root[9] = {
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"};

/* The values of the widely used test of Certificate Transparency's open implementations. */
static void the_reference_leaves(void **state)
{
	static const char *const leaf5[] = {
	    "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
	    "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
	    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7", NULL};
	static const char *const leaf0[] = {
	    "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
	    "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
	    "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4", NULL};
	static const char *const leaf2of3[] = {
	    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125", NULL};
	static const char *const from6to8[] = {
	    "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
	    "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
	    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7", NULL};
	static const char *const from2to5[] = {
	    "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
	    "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b", NULL};
	static const char *const from4to7[] = {
	    "837dbb152e9b079010717e84e865da4ebc0fa198a806d59d31bf15accef22d0e", NULL};
	struct seal_grown g;
	struct sha root, path[TREE_PATH_MAX];
	unsigned char bytes[16];
	size_t n;
	struct tree t;

	seal_grow(&g, 0);
	t = seal_tree(&g);
	for (int i = 0;; i++) {
		assert_int_equal(tree_root(g.h, &g.edge, &root), 0);
		assert_hex(&root, reference_root[i]);
		assert_int_equal(tree_root_of(&t, (uint64_t)i, &root), 0);
		assert_hex(&root, reference_root[i]);
		if (i == 8)
			break;
		tree_leaf(g.h);
		hash_add(g.h, bytes, seal_bytes(reference_leaf[i], bytes));
		assert_int_equal(hash_end(g.h, &root), 0);
		seal_add(&g, &root);
	}
	assert_int_equal(tree_path(&t, 6, 8, path, &n), 0);
	assert_path(path, n, leaf5);
	assert_int_equal(tree_path(&t, 1, 8, path, &n), 0);
	assert_path(path, n, leaf0);
	assert_int_equal(tree_path(&t, 3, 3, path, &n), 0);
	assert_path(path, n, leaf2of3);
	assert_int_equal(tree_consistency(&t, 1, 8, path, &n), 0);
	assert_path(path, n, leaf0);
	assert_int_equal(tree_consistency(&t, 6, 8, path, &n), 0);
	assert_path(path, n, from6to8);
	assert_int_equal(tree_consistency(&t, 2, 5, path, &n), 0);
	assert_path(path, n, from2to5);
	assert_int_equal(tree_consistency(&t, 4, 7, path, &n), 0);
	assert_path(path, n, from4to7);
	seal_end(&g);
}

/* --- Every size up to 130 --- */

static void roots_are_the_recursive_ones(void **state)
{
	struct seal_grown g, half;
	struct sha root, want;
	struct tree t;

	seal_grow(&g, SIZES);
	t = seal_tree(&g);
	seal_grow(&half, 0);
	for (uint64_t n = 0; n <= SIZES; n++) {
		want = mth(g.leaf, n);
		assert_int_equal(tree_root(half.h, &half.edge, &root), 0);
		assert_memory_equal(root.b, want.b, 32);
		g.asked = 0;
		assert_int_equal(tree_root_of(&t, n, &root), 0);
		assert_memory_equal(root.b, want.b, 32);
		assert_int_equal(g.asked, __builtin_popcountll(n));
		if (n < SIZES)
			seal_add(&half, &g.leaf[n]);
	}
	seal_end(&half);
	seal_end(&g);
}

/* The path is the RFC's and proves its leaf; with anything else it proves nothing. */
static void check_one_path(struct seal_grown *g, uint64_t number, uint64_t size)
{
	struct sha path[TREE_PATH_MAX + 1], want[TREE_PATH_MAX], root = mth(g->leaf, size), wrong;
	struct sha *leaf = &g->leaf[number - 1];
	struct tree t = seal_tree(g);
	size_t n, want_n = 0;

	rfc_path(number - 1, g->leaf, size, want, &want_n);
	assert_int_equal(tree_path(&t, number, size, path, &n), 0);
	assert_int_equal(n, want_n);
	assert_memory_equal(path, want, n * sizeof(*path));
	assert_int_equal(tree_check_path(g->h, leaf, number, size, path, n, &root), 1);
	/* Another leaf, number or root. */
	for (uint64_t other = 0; other <= size + 1; other++)
		if (other != number)
			assert_int_equal(
			    tree_check_path(g->h, leaf, other, size, path, n, &root), 0);
	wrong = *leaf;
	wrong.b[31] ^= 1;
	assert_int_equal(tree_check_path(g->h, &wrong, number, size, path, n, &root), 0);
	wrong = root;
	wrong.b[0] ^= 0x80;
	assert_int_equal(tree_check_path(g->h, leaf, number, size, path, n, &wrong), 0);
	/* A path that is cut, longer, changed or in another order. */
	for (size_t i = 0; i < n; i++) {
		assert_int_equal(tree_check_path(g->h, leaf, number, size, path, i, &root), 0);
		path[i].b[i] ^= 1;
		assert_int_equal(tree_check_path(g->h, leaf, number, size, path, n, &root), 0);
		path[i].b[i] ^= 1;
	}
	path[n] = root;
	assert_int_equal(tree_check_path(g->h, leaf, number, size, path, n + 1, &root), 0);
	if (n > 1) {
		assert_int_equal(tree_check_path(g->h, leaf, number, size, path + 1, n - 1, &root), 0);
		wrong = path[0];
		path[0] = path[1];
		path[1] = wrong;
		assert_int_equal(tree_check_path(g->h, leaf, number, size, path, n, &root), 0);
	}
	assert_int_equal(tree_check_path(g->h, leaf, 0, size, path, n, &root), 0);
}

static void every_leaf_of_every_size_is_proved(void **state)
{
	struct seal_grown g;

	seal_grow(&g, SIZES);
	for (uint64_t size = 1; size <= SIZES; size++)
		for (uint64_t number = 1; number <= size; number++)
			check_one_path(&g, number, size);
	seal_end(&g);
}

static void check_one_consistency(struct seal_grown *g, uint64_t old, uint64_t size)
{
	struct sha path[TREE_PATH_MAX + 1], want[TREE_PATH_MAX];
	struct sha before = mth(g->leaf, old), root = mth(g->leaf, size), wrong;
	struct tree t = seal_tree(g);
	size_t n, want_n = 0;

	rfc_subproof(old, g->leaf, size, true, want, &want_n);
	assert_int_equal(tree_consistency(&t, old, size, path, &n), 0);
	assert_int_equal(n, want_n);
	assert_memory_equal(path, want, n * sizeof(*path));
	assert_int_equal(tree_check_consistency(g->h, old, size, &before, &root, path, n), 1);
	wrong = before;
	wrong.b[5] ^= 4;
	assert_int_equal(tree_check_consistency(g->h, old, size, &wrong, &root, path, n), 0);
	assert_int_equal(tree_check_consistency(g->h, old, size, &before, &wrong, path, n), 0);
	for (size_t i = 0; i < n; i++) {
		assert_int_equal(tree_check_consistency(g->h, old, size, &before, &root, path, i), 0);
		path[i].b[i] ^= 1;
		assert_int_equal(tree_check_consistency(g->h, old, size, &before, &root, path, n), 0);
		path[i].b[i] ^= 1;
	}
	path[n] = before;
	assert_int_equal(tree_check_consistency(g->h, old, size, &before, &root, path, n + 1), 0);
	if (old != size) {
		/* Another size does not fit; one to which the same path leads would be the same tree. */
		assert_int_equal(tree_check_consistency(g->h, size, old, &before, &root, path, n), 0);
		assert_int_equal(tree_check_consistency(g->h, old, old, &before, &root, path, n), 0);
		assert_int_equal(tree_check_consistency(g->h, size, size, &before, &root, path, n), 0);
	}
	assert_int_equal(tree_check_consistency(g->h, 0, size, &before, &root, path, n), 0);
}

static void every_two_sizes_are_consistent(void **state)
{
	struct seal_grown g;

	seal_grow(&g, SIZES);
	for (uint64_t size = 1; size <= SIZES; size++)
		for (uint64_t old = 1; old <= size; old++)
			check_one_consistency(&g, old, size);
	seal_end(&g);
}

/* A trail of which entry 7 was changed is not the continuation of what it was. */
static void a_rewritten_tree_is_not_consistent(void **state)
{
	struct seal_grown g;
	struct sha path[TREE_PATH_MAX], before, root;
	struct tree t;
	size_t n;

	seal_grow(&g, SIZES);
	before = mth(g.leaf, 40);
	seal_end(&g);
	seal_grow(&g, 6);
	for (uint64_t i = 6; i < SIZES; i++) {
		struct sha leaf = seal_leaf(&i, 1 + (i == 6));

		seal_add(&g, &leaf);
	}
	t = seal_tree(&g);
	root = mth(g.leaf, SIZES);
	assert_int_equal(tree_consistency(&t, 40, SIZES, path, &n), 0);
	assert_int_equal(tree_check_consistency(g.h, 40, SIZES, &before, &root, path, n), 0);
	seal_end(&g);
}

/* Numbers that no tree has: nothing is read beyond the path, and nothing is proved. */
static void absurd_numbers_prove_nothing(void **state)
{
	static const uint64_t odd[] = {0, 1, 2, 63, 64, UINT64_C(1) << 32, UINT64_C(1) << 63,
	    UINT64_MAX - 1, UINT64_MAX};
	const size_t n = sizeof(odd) / sizeof(odd[0]);
	struct sha path[TREE_PATH_MAX] = {{{1}}}, root = {{2}};
	struct hash *h = hash_new();

	for (size_t i = 0; i < n; i++)
		for (size_t k = 0; k < n; k++)
			for (size_t p = 0; p <= TREE_PATH_MAX; p += 13) {
				assert_int_equal(
				    tree_check_path(h, &path[3], odd[i], odd[k], path, p, &root), 0);
				assert_int_equal(tree_check_consistency(h, odd[i], odd[k], &path[3],
				                     &root, path, p),
				    0);
			}
	hash_free(h);
	assert_int_equal(tree_ends(0), 0);
	assert_int_equal(tree_ends(UINT64_C(1) << 63), 64);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_reference_leaves),
	    cmocka_unit_test(roots_are_the_recursive_ones),
	    cmocka_unit_test(every_leaf_of_every_size_is_proved),
	    cmocka_unit_test(every_two_sizes_are_consistent),
	    cmocka_unit_test(a_rewritten_tree_is_not_consistent),
	    cmocka_unit_test(absurd_numbers_prove_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
