#include "sealed.h"

#include "append.h"
#include "entry.h"
#include "node.h"
#include "proof.h"
#include "tree.h"

int sealed_key(struct vault *v, struct note_key *out)
{
	sqlite3_stmt *s =
	    db_stmt(v, "SELECT key FROM seal_key ORDER BY seq DESC LIMIT 1", NULL, 0);
	int r = s ? db_next(v, s) : -1;
	size_t n;

	if (r == 1) {
		const char *text = db_column(s, 0, &n);

		if (!note_key_read(text, n, out))
			r = db_damaged(v, "a key of the trail is none");
	}
	db_done(v, s);
	return r;
}

int vault_key(struct vault *v, struct note_key *out)
{
	return sealed_key(v, out);
}

/* The public half under the trail's name, which the first key gives it. */
static int name_key(struct vault *v, const struct ed25519 *key, struct note_key *out)
{
	struct note_key now;
	int r = sealed_key(v, &now);

	*out = (struct note_key){0};
	if (r < 0)
		return -1;
	if (ed25519_public(key, out->public) < 0 ||
	    (r == 0 && checkpoint_origin(out->public, out->name) < 0))
		return db_say(v, "the public half of the key cannot be computed");
	if (r == 1)
		memcpy(out->name, now.name, sizeof(out->name));
	return 0;
}

int vault_key_text(struct vault *v, const struct ed25519 *key, char out[NOTE_KEY_MAX + 1])
{
	struct note_key named;

	if (name_key(v, key, &named) < 0)
		return -1;
	note_key_write(&named, out);
	return 0;
}

int vault_keys(struct vault *v,
    int (*fn)(void *ctx, uint64_t seq, int64_t utc_us, const char *key), void *ctx)
{
	sqlite3_stmt *s = db_stmt(v, "SELECT seq,utc_us,key FROM seal_key ORDER BY seq", NULL, 0);
	int r;

	while ((r = s ? db_next(v, s) : -1) == 1) {
		r = fn(ctx, (uint64_t)sqlite3_column_int64(s, 0), sqlite3_column_int64(s, 1),
		    db_column(s, 2, NULL));
		if (r != 0)
			break;
	}
	db_done(v, s);
	return r;
}

bool sealed_read(const char *s, size_t n, struct note *note, struct checkpoint *out)
{
	struct note own;

	note = note ? note : &own;
	return note_take(s, n, note) == n && checkpoint_read(note->text, note->text_n, out);
}

/* The newest checkpoint, and its note when that is wanted. 1, 0, -1. */
static int newest(struct vault *v, struct checkpoint *out, struct text *note)
{
	sqlite3_stmt *s =
	    db_stmt(v, "SELECT note FROM checkpoint ORDER BY n DESC LIMIT 1", NULL, 0);
	int r = s ? db_next(v, s) : -1;
	size_t n;

	if (r == 1) {
		const char *text = db_column(s, 0, &n);

		if (!sealed_read(text, n, NULL, out))
			r = db_damaged(v, "the last checkpoint cannot be read");
		else if (note)
			text_add(note, text, n);
	}
	db_done(v, s);
	return r;
}

int vault_sealed(struct vault *v, struct checkpoint *out)
{
	return newest(v, out, NULL);
}

int vault_end(struct vault *v, uint64_t *out)
{
	struct sha head;

	return append_end(v, out, &head);
}

/* The trail still begins with what the last checkpoint sealed. 0, -1. */
static int still_fits(struct vault *v, const struct checkpoint *last, uint64_t end)
{
	struct tree tree = node_tree(v);
	struct sha root;

	if (last->size > end)
		return db_say(v,
		    "the trail ends before entry %llu, and entries up to that were sealed: it was cut "
		    "short or put back; nothing is signed until 'yoke audit verify' finds it good",
		    (unsigned long long)last->size);
	if (tree_root_of(&tree, last->size, &root) < 0)
		return -1;
	if (memcmp(root.b, last->root.b, sizeof(root.b)) != 0)
		return db_say(v,
		    "the trail is no longer what checkpoint %llu sealed: entries up to %llu were "
		    "changed; nothing is signed until 'yoke audit verify' finds it good",
		    (unsigned long long)last->number, (unsigned long long)last->size);
	return 0;
}

/* Sign c with both keys, and store it. */
static int put(struct vault *v, const struct checkpoint *c, const struct note_key *named,
    const struct ed25519 *key, const struct ed25519 *before)
{
	struct text body = {0}, note = {0};
	struct note_key old = *named;
	int r = -1;

	checkpoint_write(c, &body);
	if (body.failed || note_sign(&note, body.s, named, key) < 0 ||
	    (before && (ed25519_public(before, old.public) < 0 ||
	                   note_sign(&note, body.s, &old, before) < 0)))
		db_say(v, "a checkpoint cannot be signed; nothing was recorded");
	else
		r = db_run(v, "INSERT INTO checkpoint(n,size,note) VALUES(?,?,?)",
		    db_int((int64_t)c->number), db_int((int64_t)c->size),
		    (struct db_arg){DB_TEXT, note.s, note.n, 0});
	text_free(&body);
	text_free(&note);
	return r;
}

static int seal(struct vault *v, const struct ed25519 *key, const struct ed25519 *before,
    int64_t utc_s)
{
	struct checkpoint last, c = {.utc_s = utc_s};
	struct note_key in_force, named;
	struct tree tree = node_tree(v);
	int any = newest(v, &last, NULL), keyed = sealed_key(v, &in_force);

	if (any < 0 || keyed < 0 || vault_end(v, &c.size) < 0 || name_key(v, key, &named) < 0)
		return -1;
	if (keyed == 0 || memcmp(&named, &in_force, sizeof(named)) != 0)
		return db_say(v, "the key that should sign is not the one that the trail names");
	if (any == 1 && still_fits(v, &last, c.size) < 0)
		return -1;
	if (any == 1 && last.size == c.size)
		return 0;
	c.number = any == 1 ? last.number + 1 : 1;
	memcpy(c.origin, named.name, sizeof(c.origin));
	if (tree_root_of(&tree, c.size, &c.root) < 0)
		return -1;
	return put(v, &c, &named, key, before) < 0 ? -1 : 1;
}

int vault_seal(
    struct vault *v, const struct ed25519 *key, const struct ed25519 *before, int64_t utc_s)
{
	int r;

	if (vault_begin(v) < 0)
		return -1;
	r = seal(v, key, before, utc_s);
	if (r < 0) {
		vault_rollback(v);
		return -1;
	}
	return vault_commit(v) < 0 ? -1 : r;
}

int vault_checkpoints(struct vault *v, uint64_t number, uint64_t limit,
    int (*fn)(void *ctx, uint64_t number, const char *note), void *ctx)
{
	sqlite3_stmt *s = db_query(v, "SELECT n,note FROM checkpoint WHERE n>? ORDER BY n LIMIT ?",
	    db_int((int64_t)number), db_int(limit > 0 && limit < INT64_MAX ? (int64_t)limit : -1));
	int r;

	while ((r = s ? db_next(v, s) : -1) == 1) {
		r = fn(ctx, (uint64_t)sqlite3_column_int64(s, 0), db_column(s, 1, NULL));
		if (r != 0)
			break;
	}
	db_done(v, s);
	return r;
}

/* The hash of entry seq; of the one before the first, zeros. 1, 0, -1. */
static int hash_of(struct vault *v, uint64_t seq, struct sha *out)
{
	sqlite3_stmt *s;
	int r;

	*out = (struct sha){{0}};
	if (seq == 0)
		return 1;
	s = db_query(v, "SELECT hash FROM event WHERE seq=?", db_int((int64_t)seq));
	r = s ? db_next(v, s) : -1;
	if (r == 1 && db_sha(v, s, 0, out) < 0)
		r = -1;
	db_done(v, s);
	return r;
}

static int leaf_of(struct vault *v, uint64_t seq, struct text *bytes, struct sha *leaf)
{
	sqlite3_stmt *s;
	struct entry en;
	struct sha prev;
	int r = hash_of(v, seq - 1, &prev);

	if (r != 1)
		return r;
	s = db_query(v, "SELECT " ENTRY_COLUMNS " FROM event WHERE seq=?", db_int((int64_t)seq));
	r = s ? db_next(v, s) : -1;
	if (r == 1) {
		entry_of_row(&en, s);
		entry_bytes(&prev, &en, bytes);
		if (bytes->failed || entry_leaf(v->hash, &prev, &en, leaf) < 0)
			r = db_say(v, "memory ran out; ask again");
	}
	db_done(v, s);
	return r;
}

int vault_prove(struct vault *v, uint64_t seq, struct text *out)
{
	struct sha path[TREE_PATH_MAX], leaf;
	struct text bytes = {0}, note = {0};
	struct tree tree = node_tree(v);
	struct checkpoint c;
	size_t n;
	int r = newest(v, &c, &note);

	if (r == 1 && (seq == 0 || seq > c.size))
		r = 0;
	if (r == 1)
		r = leaf_of(v, seq, &bytes, &leaf);
	if (r != 1)
		goto out;
	r = tree_path(&tree, seq, c.size, path, &n);
	if (r == 0)
		r = tree_check_path(v->hash, &leaf, seq, c.size, path, n, &c.root);
	if (r == 0)
		r = db_damaged(v, "the trail is not what the last checkpoint sealed");
	if (r == 1)
		proof_write(out, bytes.s, bytes.n, path, n, note.s);
	if (r == 1 && (note.failed || out->failed))
		r = db_say(v, "memory ran out; ask again");
out:
	text_free(&bytes);
	text_free(&note);
	return r;
}

int64_t vault_copied(struct vault *v, const char *place)
{
	sqlite3_stmt *s = db_query(v, "SELECT n FROM copied WHERE place=?", db_text(place));
	int r = s ? db_next(v, s) : -1;
	int64_t n = r == 1 ? sqlite3_column_int64(s, 0) : r;

	db_done(v, s);
	return n;
}

int vault_set_copied(struct vault *v, const char *place, uint64_t number)
{
	int r;

	if (vault_begin(v) < 0)
		return -1;
	r = db_run(v, "INSERT OR REPLACE INTO copied(place,n) VALUES(?,?)", db_text(place),
	    db_int((int64_t)number));
	if (r < 0) {
		vault_rollback(v);
		return -1;
	}
	return vault_commit(v);
}
