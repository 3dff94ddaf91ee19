/*
 * 1. v->depth counts open vault_begin calls. SQLite has a transaction open if and only if
 *    depth > 0 and not undone.
 * 2. A failure inside rolls the whole transaction back at once (undone), whatever the depth. From
 *    then on nothing can be written until the outermost caller has left, and its vault_commit
 *    returns -1: all or nothing.
 */
#include <assert.h>
#include <unistd.h>
#include "db.h"
#include "endnote.h"
#include "stage.h"

static void roll_back(struct vault *v)
{
	/* SQLite has rolled back by itself after some failures. */
	if (!sqlite3_get_autocommit(v->db))
		sqlite3_exec(v->db, "ROLLBACK", NULL, NULL, NULL);
	stage_undone(v);
	endnote_undone(v);
}

int vault_begin(struct vault *v)
{
	assert(v->pid == getpid());
	if (v->undone)
		return -1;
	if (v->depth == 0 && db_run_args(v, "BEGIN IMMEDIATE", NULL, 0) < 0)
		return -1;
	v->depth++;
	return 0;
}

int vault_commit(struct vault *v)
{
	if (v->depth == 0)
		return db_say(v, "a transaction is ended that was not begun");
	v->depth--;
	if (v->depth > 0)
		return v->undone ? -1 : 0;
	if (v->undone) {
		v->undone = false;
		return -1;
	}
	if (db_run_args(v, "COMMIT", NULL, 0) < 0) {
		roll_back(v);
		return -1;
	}
	stage_done(v);
	endnote_done(v);
	return 0;
}

void vault_rollback(struct vault *v)
{
	if (v->depth == 0)
		return;
	if (!v->undone)
		roll_back(v);
	v->depth--;
	v->undone = v->depth > 0;
}
