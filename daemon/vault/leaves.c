/* Entries as the bytes that are hashed, one after the other. */
#include "entry.h"
#include "vault_seal.h"

/* Where the list begins: behind this entry, whose hash is the first thing in the next one. 1, 0 there is no
 * such entry, -1. */
static int begin(struct vault *v, uint64_t seq, struct sha *prev)
{
	sqlite3_stmt *s;
	int r;

	*prev = (struct sha){{0}};
	if (seq == 0)
		return 1;
	s = db_query(v, "SELECT hash FROM event WHERE seq=?",
	    db_int(seq < INT64_MAX ? (int64_t)seq : INT64_MAX));
	r = s ? db_next(v, s) : -1;
	if (r == 1 && db_sha(v, s, 0, prev) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

int vault_leaves(struct vault *v, uint64_t seq,
    int (*fn)(void *ctx, const void *leaf, size_t n), void *ctx)
{
	struct sha prev;
	sqlite3_stmt *s;
	int r = begin(v, seq, &prev);

	if (r != 1)
		return r;
	s = db_query(v, "SELECT " ENTRY_COLUMNS " FROM event WHERE seq>? ORDER BY seq",
	    db_int((int64_t)seq));
	while ((r = s ? db_next(v, s) : -1) == 1) {
		struct text bytes = {0};
		struct entry en;

		entry_of_row(&en, s);
		entry_bytes(&prev, &en, &bytes);
		r = db_sha(v, s, ENTRY_HASH_COLUMN, &prev);
		if (r == 0 && bytes.failed)
			r = db_say(v, "memory ran out; ask again");
		if (r == 0)
			r = fn(ctx, bytes.s, bytes.n);
		text_free(&bytes);
		if (r != 0)
			break;
	}
	db_done(v, s);
	return r;
}
