#include "upgrade.h"

#include <stdio.h>
#include <string.h>
#include "append.h"
#include "entry.h"
#include "fold.h"
#include "node.h"
#include "schema.h"

static int drop_state(struct vault *v)
{
	if (db_script(v, "DROP TABLE IF EXISTS node") < 0)
		return -1;
	for (const struct schema_table *t = schema_state; t->name; t++) {
		char sql[64];

		snprintf(sql, sizeof(sql), "DROP TABLE IF EXISTS %s", t->name);
		if (db_script(v, sql) < 0)
			return -1;
	}
	return 0;
}

/* prev: the hash of the entry before it; this one's hash after it. */
static int replay_one(struct vault *v, sqlite3_stmt *s, struct sha *prev)
{
	struct entry en;
	struct event e;
	struct sha hash, leaf;

	entry_of_row(&en, s);
	if (entry_event(&en, &e) < 0 || e.kind == EVENT_COUNT)
		return db_damaged(v, "an entry of the trail cannot be read");
	if (db_sha(v, s, ENTRY_HASH_COLUMN, &hash) < 0)
		return -1;
	if (entry_leaf(v->hash, prev, &en, &leaf) < 0)
		return db_say(v, "SHA-256 cannot be computed");
	*prev = hash;
	return node_add(v, e.seq, &leaf) < 0 ? -1 : fold(v, &e, &hash);
}

static int replay(struct vault *v)
{
	sqlite3_stmt *s =
	    db_stmt_once(v, "SELECT " ENTRY_COLUMNS " FROM event ORDER BY seq", NULL, 0);
	struct sha prev = {{0}};
	int r;

	while ((r = s ? db_next(v, s) : -1) == 1) {
		r = replay_one(v, s, &prev);
		if (r < 0)
			break;
	}
	db_done(v, s);
	return r;
}

static int make_anew(struct vault *v)
{
	uint64_t before = 0, after = 0;
	struct sha head_before, head_after;

	if (append_end(v, &before, &head_before) < 0)
		return -1;
	db_forget(v);
	if (drop_state(v) < 0 || db_script(v, schema_more_sql) < 0 ||
	    db_script(v, schema_state_sql) < 0 || replay(v) < 0 ||
	    append_end(v, &after, &head_after) < 0)
		return -1;
	/* Who has cut entries off, or put some in, shall not get a state that fits them. */
	if (before != after || memcmp(&head_before, &head_after, sizeof(head_before)) != 0)
		return db_damaged(v, "the trail does not end where it says");
	return 0;
}

int upgrade(struct vault *v)
{
	if (vault_begin(v) < 0)
		return -1;
	if (make_anew(v) < 0) {
		vault_rollback(v);
		return -1;
	}
	return vault_commit(v);
}
