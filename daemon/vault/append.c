/*
 * 1. The next entry follows the last one that the table trail names, not the last row of event:
 * when rows were removed by hand, the gap stays visible for ever.
 * 2. Row, hash and state belong to one transaction. How an entry becomes bytes stands in entry.h.
 */
#include "append.h"
#include "endnote.h"
#include "entry.h"
#include "fold.h"
#include "node.h"

int append_end(struct vault *v, uint64_t *seq, struct sha *head)
{
	sqlite3_stmt *s = db_stmt(v, "SELECT seq,head FROM trail WHERE id=1", NULL, 0);
	int r = s ? db_next(v, s) : -1;

	if (r == 1) {
		*seq = (uint64_t)sqlite3_column_int64(s, 0);
		r = db_sha(v, s, 1, head);
	} else if (r == 0) {
		r = db_damaged(v, "the end of the trail is not known");
	}
	db_done(v, s);
	return r;
}

static int insert(struct vault *v, const struct entry *en, const struct sha *hash)
{
	struct db_arg arg[ENTRY_HASH_COLUMN + 1] = {db_int((int64_t)en->seq), db_int(en->utc_us),
	    db_int((int64_t)en->order), db_bytes(en->parts, en->parts_n)};

	for (int i = 0; i < ENTRY_TEXTS; i++)
		arg[4 + i] = (struct db_arg){DB_TEXT, en->text[i].s, en->text[i].n, 0};
	arg[ENTRY_HASH_COLUMN] = db_bytes(hash->b, sizeof(hash->b));
	return db_run_args(v,
	    "INSERT INTO event(" ENTRY_COLUMNS ") VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?)", arg,
	    ENTRY_HASH_COLUMN + 1);
}

static int add(struct vault *v, const struct entry *en, const struct event *e, const struct sha *head,
    const struct sha *hash)
{
	struct sha leaf;

	if (entry_leaf(v->hash, head, en, &leaf) < 0)
		return db_say(v, "SHA-256 cannot be computed; nothing was recorded");
	if (insert(v, en, hash) < 0 || node_add(v, en->seq, &leaf) < 0 || fold(v, e, hash) < 0)
		return -1;
	endnote_moved(v, en->seq, hash);
	return 0;
}

int append(struct vault *v, struct event *e)
{
	struct parts_bytes parts;
	struct entry en;
	struct sha head, hash;
	uint64_t last = 0;

	if (append_end(v, &last, &head) < 0)
		return -1;
	e->seq = last + 1;
	if (e->kind == EVENT_QUEUED)
		e->order = e->seq;
	entry_of_event(&en, &parts, e);
	if (entry_hash(v->hash, &head, &en, &hash) < 0)
		return db_say(v, "SHA-256 cannot be computed; nothing was recorded");
	return add(v, &en, e, &head, &hash);
}

int append_again(struct vault *v, const struct entry *en, const struct sha *hash)
{
	struct sha head, own;
	uint64_t last = 0;
	struct event e;

	if (append_end(v, &last, &head) < 0)
		return -1;
	if (entry_hash(v->hash, &head, en, &own) < 0)
		return db_say(v, "SHA-256 cannot be computed");
	if (en->seq != last + 1 || memcmp(&own, hash, sizeof(own)) != 0 || entry_event(en, &e) < 0 ||
	    e.kind == EVENT_COUNT)
		return 0;
	return add(v, en, &e, &head, hash) < 0 ? -1 : 1;
}
