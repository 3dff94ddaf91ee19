#include "db.h"
#include "hash.h"

int64_t vault_program_size(struct vault *v, const struct sha *sha)
{
	sqlite3_stmt *s =
	    db_query(v, "SELECT size FROM program WHERE sha=?", db_bytes(sha->b, sizeof(sha->b)));
	int64_t size = -1;
	int r;

	if (!s)
		return -1;
	r = db_next(v, s);
	if (r == 1)
		size = sqlite3_column_int64(s, 0);
	if (r == 0)
		db_say(v, "the program is not in the vault");
	db_done(v, s);
	return size;
}

static int read_pieces(struct vault *v, struct hash *h, const struct sha *sha,
    int (*fn)(void *ctx, const void *bytes, size_t n), void *ctx)
{
	sqlite3_stmt *s = db_query(v,
	    "SELECT bytes,n FROM piece WHERE program=(SELECT id FROM program WHERE sha=?) ORDER BY "
	    "n",
	    db_bytes(sha->b, sizeof(sha->b)));
	int64_t want = 0;
	int r;

	if (!s)
		return -1;
	while ((r = db_next(v, s)) == 1) {
		const void *bytes = sqlite3_column_blob(s, 0);
		size_t n = (size_t)sqlite3_column_bytes(s, 0);

		if (sqlite3_column_int64(s, 1) != want++ || !bytes) {
			r = db_damaged(v, "a piece of a program is missing");
			break;
		}
		hash_add(h, bytes, n);
		if (fn(ctx, bytes, n) != 0) {
			r = db_say(v, "the reader of a program gave up");
			break;
		}
	}
	db_done(v, s);
	return r;
}

int vault_program_read(struct vault *v, const struct sha *sha,
    int (*fn)(void *ctx, const void *bytes, size_t n), void *ctx)
{
	struct hash *h;
	struct sha got;
	int r = -1;

	if (vault_program_size(v, sha) < 0)
		return -1;
	h = hash_new();
	if (!h)
		return db_say(v, "memory ran out; ask again");
	if (read_pieces(v, h, sha, fn, ctx) < 0)
		goto out;
	if (hash_end(h, &got) < 0 || memcmp(&got, sha, sizeof(got)) != 0)
		db_damaged(v, "a program's bytes do not have its SHA-256");
	else
		r = 0;
out:
	hash_free(h);
	return r;
}
