#include "node.h"

static int find(void *ctx, uint64_t last, unsigned level, struct sha *out)
{
	struct vault *v = ctx;
	sqlite3_stmt *s =
	    db_query(v, "SELECT hashes FROM node WHERE seq=?", db_int((int64_t)last));
	int r = s ? db_next(v, s) : -1;
	size_t n = r == 1 ? (size_t)sqlite3_column_bytes(s, 0) : 0;

	if (r >= 0 && n < (level + 1) * sizeof(out->b)) {
		r = db_damaged(v, "a node of the tree over the trail is missing");
	} else if (r == 1) {
		memcpy(out->b,
		    (const unsigned char *)sqlite3_column_blob(s, 0) + level * sizeof(out->b),
		    sizeof(out->b));
		r = 0;
	}
	db_done(v, s);
	return r;
}

int node_add(struct vault *v, uint64_t seq, const struct sha *leaf)
{
	struct sha ended[TREE_LEVELS];
	unsigned n = tree_ends(seq);

	ended[0] = *leaf;
	for (unsigned level = 1; level < n; level++) {
		struct sha left;

		if (find(v, seq - (UINT64_C(1) << (level - 1)), level - 1, &left) < 0)
			return -1;
		if (tree_node(v->hash, &left, &ended[level - 1], &ended[level]) < 0)
			return db_say(v, "SHA-256 cannot be computed; nothing was recorded");
	}
	return db_run(v, "INSERT INTO node(seq,hashes) VALUES(?,?)", db_int((int64_t)seq),
	    db_bytes(ended, n * sizeof(*ended)));
}

struct tree node_tree(struct vault *v)
{
	return (struct tree){v->hash, find, v};
}
