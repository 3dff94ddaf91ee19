/* Checking what somebody else proves: step by step as RFC 9162 2.1.3.2 and 2.1.4.2 say, with the RFC's fn
 * and sn. Nothing that is given is trusted. */
#include <string.h>
#include "hash.h"
#include "tree.h"

static bool same(const struct sha *a, const struct sha *b)
{
	return memcmp(a->b, b->b, sizeof(a->b)) == 0;
}

/* Shift both until the end of fn is set, or fn is 0. */
static void climb(uint64_t *fn, uint64_t *sn)
{
	while (*fn != 0 && !(*fn & 1)) {
		*fn >>= 1;
		*sn >>= 1;
	}
}

int tree_check_path(struct hash *h, const struct sha *leaf, uint64_t number, uint64_t size,
    const struct sha *path, size_t n, const struct sha *root)
{
	uint64_t fn = number - 1, sn = size - 1;
	struct sha r = *leaf;

	if (number == 0 || number > size)
		return 0;
	for (size_t i = 0; i < n; i++) {
		bool from_left = (fn & 1) || fn == sn;

		if (sn == 0)
			return 0;
		if (tree_node(h, from_left ? &path[i] : &r, from_left ? &r : &path[i], &r) < 0)
			return -1;
		if (from_left)
			climb(&fn, &sn);
		fn >>= 1;
		sn >>= 1;
	}
	return sn == 0 && same(&r, root);
}

int tree_check_consistency(struct hash *h, uint64_t old, uint64_t size, const struct sha *old_root,
    const struct sha *root, const struct sha *path, size_t n)
{
	uint64_t fn = old - 1, sn = size - 1;
	bool whole = (old & (old - 1)) == 0; /* the old tree is a subtree of the new one */
	struct sha fr, sr;

	if (old == 0 || old > size)
		return 0;
	if (old == size)
		return n == 0 && same(old_root, root);
	if (n == 0)
		return 0;
	while (fn & 1) {
		fn >>= 1;
		sn >>= 1;
	}
	fr = sr = whole ? *old_root : path[0];
	for (size_t i = whole ? 0 : 1; i < n; i++) {
		if (sn == 0)
			return 0;
		if ((fn & 1) || fn == sn) {
			if (tree_node(h, &path[i], &fr, &fr) < 0 ||
			    tree_node(h, &path[i], &sr, &sr) < 0)
				return -1;
			climb(&fn, &sn);
		} else if (tree_node(h, &sr, &path[i], &sr) < 0) {
			return -1;
		}
		fn >>= 1;
		sn >>= 1;
	}
	return sn == 0 && same(&fr, old_root) && same(&sr, root);
}
