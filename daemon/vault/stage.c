/*
 * A program on its way into the vault.
 *
 * 1. At most STAGE_PIECE bytes of a stage are in memory; whole pieces go to the table piece, each
 * in a short transaction of its own, so that the loop and other writers never wait for a large
 * program. A small program is written in the transaction of vault_stage_keep alone: one sync of the
 * disk.
 * 2. Until it is kept, its row of program has no SHA-256. Such a row without an open stage is a
 * leftover: it is removed at the next open, and after a failure before the next stage begins.
 * 3. A piece that is written while the caller has a transaction open belongs to that transaction.
 * When it is rolled back, the stage is broken: it can only be dropped, and the file is read again.
 * 4. The bytes are hashed here too: a program never lies under a name that is not its own.
 *
 *   filling --add--> filling --keep--> kept (freed)
 *      |                 \--stage_undone / failed write--> broken --keep: -1, drop--> freed
 *      \--drop--> freed
 */
#include <stdlib.h>
#include "db.h"
#include "hash.h"
#include "stage.h"

enum { STAGE_PIECE = 1 << 20 }; /* bytes; a matter of memory and syncs, not of the format */

struct vault_stage {
	struct vault *v; /* NULL once the vault was closed */
	struct vault_stage *next;
	struct hash *hash;
	unsigned char *piece;
	size_t n, cap;
	int64_t id;          /* row of program, 0 before the first piece was written */
	int64_t pieces;      /* written */
	uint64_t size;       /* added */
	bool in_transaction; /* a piece was written inside the open transaction */
	bool new_row; /* and its row of program too: after a rollback id may be somebody else's */
	bool broken;
};

static void unlink_stage(struct vault_stage *s)
{
	struct vault_stage **at = &s->v->stages;

	while (*at != s)
		at = &(*at)->next;
	*at = s->next;
}

static void free_stage(struct vault_stage *s)
{
	if (s->v)
		unlink_stage(s);
	hash_free(s->hash);
	free(s->piece);
	free(s);
}

struct vault_stage *vault_stage_new(struct vault *v)
{
	struct vault_stage *s = calloc(1, sizeof(*s));

	if (!s)
		goto fail;
	s->hash = hash_new();
	if (!s->hash)
		goto fail;
	/* A failure to tidy up is no reason to take no program. */
	if (v->leftovers && v->depth == 0)
		stage_sweep(v);
	s->v = v;
	s->next = v->stages;
	v->stages = s;
	return s;
fail:
	db_say(v, "memory ran out; ask again");
	free(s);
	return NULL;
}

static int write_piece(struct vault_stage *s)
{
	struct vault *v = s->v;

	if (s->id == 0) {
		if (db_run_args(v, "INSERT INTO program(sha,size) VALUES(NULL,NULL)", NULL, 0) < 0)
			return -1;
		s->id = sqlite3_last_insert_rowid(v->db);
		s->new_row = true;
	}
	s->in_transaction = true;
	if (db_run(v, "INSERT INTO piece(program,n,bytes) VALUES(?,?,?)", db_int(s->id),
	        db_int(s->pieces), db_bytes(s->piece, s->n)) < 0)
		return -1;
	s->pieces++;
	s->n = 0;
	return 0;
}

static int flush(struct vault_stage *s)
{
	if (vault_begin(s->v) < 0)
		goto broken;
	if (write_piece(s) < 0)
		goto undo;
	if (vault_commit(s->v) < 0)
		goto broken;
	return 0;
undo:
	vault_rollback(s->v);
broken:
	s->broken = true;
	return -1;
}

static int make_room(struct vault_stage *s, size_t n)
{
	size_t want = s->n + n, cap = s->cap ? s->cap : 4096;
	unsigned char *p;

	if (want > STAGE_PIECE)
		want = STAGE_PIECE;
	if (want <= s->cap)
		return 0;
	while (cap < want)
		cap *= 2;
	p = realloc(s->piece, cap);
	if (!p)
		return db_say(s->v, "memory ran out; ask again");
	s->piece = p;
	s->cap = cap;
	return 0;
}

static int usable(struct vault_stage *s)
{
	if (!s->v)
		return -1;
	if (s->broken)
		return db_say(
		    s->v, "the program was not taken whole after a failure; read it again");
	return 0;
}

int vault_stage_add(struct vault_stage *s, const void *bytes, size_t n)
{
	const unsigned char *p = bytes;

	if (usable(s) < 0)
		return -1;
	if (n > YOKE_PROGRAM_MAX - s->size) {
		s->broken = true;
		return db_say(s->v, "a program may have 1 GiB and not more; split it");
	}
	hash_add(s->hash, bytes, n);
	s->size += n;
	while (n > 0) {
		size_t k;

		if (make_room(s, n) < 0) {
			s->broken = true;
			return -1;
		}
		k = STAGE_PIECE - s->n < n ? STAGE_PIECE - s->n : n;
		memcpy(s->piece + s->n, p, k);
		s->n += k;
		p += k;
		n -= k;
		if (s->n == STAGE_PIECE && flush(s) < 0)
			return -1;
	}
	return 0;
}

static int remove_rows(struct vault *v, int64_t id)
{
	if (vault_begin(v) < 0)
		return -1;
	if (db_run(v, "DELETE FROM piece WHERE program=?", db_int(id)) < 0)
		goto undo;
	if (db_run(v, "DELETE FROM program WHERE id=? AND sha IS NULL", db_int(id)) < 0)
		goto undo;
	return vault_commit(v);
undo:
	vault_rollback(v);
	return -1;
}

static int keep_rows(struct vault_stage *s, const struct sha *sha)
{
	struct vault *v = s->v;

	if (s->id == 0 && s->n == 0) /* a program of no bytes has no piece */
		return db_run(v, "INSERT INTO program(sha,size) VALUES(?,0)",
		    db_bytes(sha->b, sizeof(sha->b)));
	if (s->n > 0 && write_piece(s) < 0)
		return -1;
	return db_run(v, "UPDATE program SET sha=?,size=? WHERE id=?",
	    db_bytes(sha->b, sizeof(sha->b)), db_int((int64_t)s->size), db_int(s->id));
}

int vault_stage_keep(struct vault_stage *s, const struct sha *sha)
{
	struct vault *v = s->v;
	struct sha own;
	int64_t known;

	if (usable(s) < 0)
		goto fail;
	if (hash_end(s->hash, &own) < 0 || memcmp(&own, sha, sizeof(own)) != 0) {
		db_say(
		    v, "the program's bytes do not have the SHA-256 that was told; read it again");
		goto fail;
	}
	if (vault_begin(v) < 0)
		goto fail;
	known = vault_program_size(v, sha);
	if (known >= 0 ? s->id != 0 && remove_rows(v, s->id) < 0 : keep_rows(s, sha) < 0)
		goto undo;
	if (vault_commit(v) < 0)
		goto fail;
	free_stage(s);
	return 0;
undo:
	vault_rollback(v);
fail:
	if (v && s->id != 0)
		v->leftovers = true;
	free_stage(s);
	return -1;
}

void vault_stage_drop(struct vault_stage *s)
{
	if (!s)
		return;
	if (s->v && s->id != 0 && remove_rows(s->v, s->id) < 0)
		s->v->leftovers = true;
	free_stage(s);
}

void stage_undone(struct vault *v)
{
	for (struct vault_stage *s = v->stages; s; s = s->next) {
		if (!s->in_transaction)
			continue;
		s->broken = true;
		if (s->new_row)
			s->id = 0;
		s->in_transaction = s->new_row = false;
	}
	/* A stage that was kept inside it may have committed pieces before. */
	v->leftovers = true;
}

void stage_done(struct vault *v)
{
	for (struct vault_stage *s = v->stages; s; s = s->next)
		s->in_transaction = s->new_row = false;
}

void stage_orphan(struct vault *v)
{
	for (struct vault_stage *s = v->stages; s; s = s->next)
		s->v = NULL;
	v->stages = NULL;
}

static bool held(const struct vault *v, int64_t id)
{
	const struct vault_stage *s = v->stages;

	while (s && s->id != id)
		s = s->next;
	return s != NULL;
}

int stage_sweep(struct vault *v)
{
	int64_t after = 0;

	for (;;) {
		sqlite3_stmt *s = db_query(v,
		    "SELECT id FROM program WHERE sha IS NULL AND id>? ORDER BY id LIMIT 1",
		    db_int(after));
		int r;

		if (!s)
			return -1;
		r = db_next(v, s);
		if (r == 1)
			after = sqlite3_column_int64(s, 0);
		db_done(v, s);
		if (r < 0)
			return -1;
		if (r == 0)
			break;
		if (!held(v, after) && remove_rows(v, after) < 0)
			return -1;
	}
	v->leftovers = false;
	return 0;
}
