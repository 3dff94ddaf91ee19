/*
 * Does the vault still say what was recorded? Ten questions, in this order; the first that fails
 * is the answer, and questions 2 and 5 are asked of each entry in turn:
 *
 *   1. tables     the layout is that of a vault
 *   2. chain      every entry from 1, no gap; its hash is that of its fields after the entry
 *                 before it
 *   3. end        the last entry is the one that the trail's end names
 *   4. told       the entry that the note beside the vault tells of is there (endnote.h)
 *   5. seal       the tree is that of the entries, and every checkpoint's: verify_seal.c
 *   6. state      replayed into a scratch vault by the same fold, every table is equal row by row
 *   7. file       SQLite's own check of the tables and their indexes
 *   8. arrivals   every program that arrived is there
 *   9. programs   on demand: every piece in its place, the bytes have their SHA-256
 *  10. guards     the triggers and indexes are there, unchanged
 *
 * Who rewrites chain, state and tree has no key to sign the checkpoints; who removes the last of them, or
 * has the key, is found by the checkpoints in their second place (cli/verb_audit.c).
 */
#include <stdarg.h>
#include <stdio.h>
#include "compare.h"
#include "entry.h"
#include "fold.h"
#include "open.h"
#include "schema.h"
#include "verify.h"

int verify_bad(struct verify *c, uint64_t seq, const char *format, ...)
{
	va_list ap;

	c->out->good = false;
	c->out->first_bad = seq;
	va_start(ap, format);
	vsnprintf(c->out->text, sizeof(c->out->text), format, ap);
	va_end(ap);
	return 1;
}

static int has_program(struct vault *v, const struct sha *sha)
{
	sqlite3_stmt *s =
	    db_query(v, "SELECT 1 FROM program WHERE sha=?", db_bytes(sha->b, sizeof(sha->b)));
	int r = s ? db_next(v, s) : -1;

	db_done(v, s);
	return r;
}

static void hex(const unsigned char *b, size_t n, char *out)
{
	for (size_t i = 0; i < n; i++)
		sprintf(out + 2 * i, "%02x", b[i]);
}

/* A repair has said that it could not be saved: 1, 0, -1. */
static int told_lost(struct verify *c, const char *name, uint64_t after)
{
	sqlite3_stmt *s = db_query(c->v,
	    "SELECT 1 FROM event WHERE kind='repaired' AND seq>? AND instr(detail,?)>0",
	    db_int((int64_t)after), db_text(name));
	int r = s ? db_next(c->v, s) : -1;

	db_done(c->v, s);
	if (r == 1)
		c->lost++;
	return r;
}

static int check_arrival(struct verify *c, const struct event *e)
{
	char name[YOKE_SHA_HEX + 1];
	int r = 1;

	for (uint32_t i = 0; i < e->parts && r >= 0 && !*c->missing; i++) {
		r = e->part[i].has_after ? has_program(c->v, &e->part[i].after) : 1;
		hex(e->part[i].after.b, YOKE_SHA_SIZE, name);
		if (r == 0)
			r = told_lost(c, name, e->seq);
		if (r == 0)
			snprintf(c->missing, sizeof(c->missing),
			    "program %s, which arrived with entry %llu, is missing", name,
			    (unsigned long long)e->seq);
	}
	return r < 0 ? -1 : 0;
}

/* One entry after the head: 0 it fits, 1 it does not (said), -1 failed. */
static int check_entry(struct verify *c, sqlite3_stmt *s)
{
	uint64_t want = c->out->events + 1;
	const void *stored = sqlite3_column_blob(s, ENTRY_HASH_COLUMN);
	struct entry en;
	struct event e;
	struct sha hash, leaf;
	int r;

	entry_of_row(&en, s);
	if (en.seq != want)
		return verify_bad(c, want, "entry %llu is missing: entry %llu follows entry %llu",
		    (unsigned long long)want, (unsigned long long)en.seq,
		    (unsigned long long)want - 1);
	if (entry_hash(c->v->hash, &c->out->head, &en, &hash) < 0 ||
	    entry_leaf(c->v->hash, &c->out->head, &en, &leaf) < 0)
		return db_say(c->v, "SHA-256 cannot be computed");
	if (!stored || sqlite3_column_bytes(s, ENTRY_HASH_COLUMN) != YOKE_SHA_SIZE ||
	    memcmp(stored, hash.b, YOKE_SHA_SIZE) != 0)
		return verify_bad(c, want,
		    "entry %llu does not have its hash: it, or the order of the entries, was "
		    "changed",
		    (unsigned long long)want);
	if (entry_event(&en, &e) < 0 || e.kind == EVENT_COUNT)
		return verify_bad(c, want, "entry %llu cannot be read by this version of yoked",
		    (unsigned long long)want);
	if (fold(c->scratch, &e, &hash) < 0)
		return db_say(c->v, "the replay failed at entry %llu: %.400s",
		    (unsigned long long)want, c->scratch->error);
	c->out->events = want;
	c->out->head = hash;
	if (want == c->told.seq && memcmp(&hash, &c->told.head, sizeof(hash)) != 0)
		return verify_bad(c, want,
		    "entry %llu is not the one that was recorded: the note beside the vault tells "
		    "another hash",
		    (unsigned long long)want);
	r = verify_seal_entry(c, &e, &leaf);
	return r == 0 && e.kind == EVENT_ARRIVED ? check_arrival(c, &e) : r;
}

static int check_chain(struct verify *c)
{
	sqlite3_stmt *s =
	    db_stmt(c->v, "SELECT " ENTRY_COLUMNS " FROM event ORDER BY seq", NULL, 0);
	int r = s ? verify_seal_begin(c) : -1;

	while (r == 0 && (r = db_next(c->v, s)) == 1) {
		r = check_entry(c, s);
		if (r != 0)
			break;
	}
	db_done(c->v, s);
	return r;
}

static int check_end(struct verify *c)
{
	sqlite3_stmt *s = db_stmt(c->v, "SELECT seq,head FROM trail", NULL, 0);
	int r = s ? db_next(c->v, s) : -1;
	uint64_t last = c->out->events;

	if (r == 0)
		r = verify_bad(c, 0, "the note of the trail's end is missing");
	else if (r == 1 && (uint64_t)sqlite3_column_int64(s, 0) > last)
		r = verify_bad(c, last + 1, "entries %llu to %lld are missing at the end of the trail",
		    (unsigned long long)last + 1, (long long)sqlite3_column_int64(s, 0));
	else if (r == 1)
		r = 0; /* anything else is a difference of state */
	db_done(c->v, s);
	return r;
}

static int check_told(struct verify *c)
{
	if (c->told.seq <= c->out->events)
		return 0;
	return verify_bad(c, c->out->events + 1,
	    "entries %llu to %llu were recorded and are missing: the write-ahead log was cut or removed, "
	    "or the file is an older copy",
	    (unsigned long long)c->out->events + 1, (unsigned long long)c->told.seq);
}

static int compare(struct verify *c, const struct schema_table *t)
{
	char why[400];
	int r = compare_table(c->v, c->scratch, t, why, sizeof(why));

	return r == 1 ? verify_bad(c, 0, "%s", why) : r;
}

static int check_state(struct verify *c)
{
	int r = 0;

	for (const struct schema_table *t = schema_state; t->name && r == 0; t++)
		r = compare(c, t);
	return r;
}

/* SQLite's own check; without programs it leaves the large table alone. */
static int check_file(struct verify *c, bool programs)
{
	static const char *const sql[] = {"PRAGMA integrity_check('event')",
	    "PRAGMA integrity_check('slot')", "PRAGMA integrity_check('pair')",
	    "PRAGMA integrity_check('release')", "PRAGMA integrity_check('orders')",
	    "PRAGMA integrity_check('machine')", "PRAGMA integrity_check('stick')",
	    "PRAGMA integrity_check('seal_key')", "PRAGMA integrity_check('node')",
	    "PRAGMA integrity_check('checkpoint')",
	    "PRAGMA integrity_check('program')", "PRAGMA integrity_check"};
	const size_t whole = sizeof(sql) / sizeof(sql[0]) - 1;
	size_t from = programs ? whole : 0, to = programs ? whole + 1 : whole;
	int r = 0;

	for (size_t i = from; i < to && r == 0; i++) {
		sqlite3_stmt *s = db_stmt(c->v, sql[i], NULL, 0);

		r = s ? db_next(c->v, s) : -1;
		if (r == 1)
			r = strcmp(db_column(s, 0, NULL), "ok") == 0
			        ? 0
			        : verify_bad(c, 0, "the file is damaged: %.400s", db_column(s, 0, NULL));
		db_done(c->v, s);
	}
	return r;
}

static int ignore(void *ctx, const void *bytes, size_t n)
{
	*(int64_t *)ctx += (int64_t)n;
	return 0;
}

/* One program: its pieces, its SHA-256 and its size. */
static int check_program(struct verify *c, const struct sha *sha, int64_t size)
{
	char name[YOKE_SHA_HEX + 1];
	int64_t got = 0;

	hex(sha->b, sizeof(sha->b), name);
	if (vault_program_read(c->v, sha, ignore, &got) < 0)
		return verify_bad(c, 0, "program %s is not what was stored: %.300s", name,
		    c->v->error + strlen("vault : ") + strnlen(c->v->path, 500));
	if (got != size)
		return verify_bad(c, 0, "program %s has %lld bytes, %lld were stored", name,
		    (long long)got, (long long)size);
	return 0;
}

static int check_programs(struct verify *c, uint64_t *count)
{
	sqlite3_stmt *s = db_stmt(
	    c->v, "SELECT sha,size FROM program WHERE sha IS NOT NULL ORDER BY id", NULL, 0);
	struct sha sha;
	int r;

	while ((r = s ? db_next(c->v, s) : -1) == 1) {
		r = db_sha(c->v, s, 0, &sha);
		if (r == 0)
			r = check_program(c, &sha, sqlite3_column_int64(s, 1));
		if (r != 0)
			break;
		++*count;
	}
	db_done(c->v, s);
	if (r != 0)
		return r;
	s = db_stmt(c->v,
	    "SELECT count(*) FROM piece WHERE program NOT IN (SELECT id FROM program)", NULL, 0);
	r = s ? db_next(c->v, s) : -1;
	if (r == 1)
		r = sqlite3_column_int64(s, 0) == 0
		        ? 0
		        : verify_bad(c, 0, "pieces of a program are there without it");
	db_done(c->v, s);
	return r;
}

static void say_good(struct verify *c, bool programs, uint64_t count)
{
	char *text = c->out->text;
	size_t size = sizeof(c->out->text);
	int n;

	if (programs)
		n = snprintf(text, size, "%llu entries, the state they make, %llu programs",
		    (unsigned long long)c->out->events, (unsigned long long)count);
	else
		n = snprintf(text, size,
		    "%llu entries, the state they make (programs were not read)",
		    (unsigned long long)c->out->events);
	if (c->lost)
		n += snprintf(text + n, size - (size_t)n, ", %llu arrivals whose program a repair could not save",
		    (unsigned long long)c->lost);
	if (c->out->checkpoints)
		n += snprintf(text + n, size - (size_t)n, ", %llu checkpoint%s",
		    (unsigned long long)c->out->checkpoints, c->out->checkpoints == 1 ? "" : "s");
	if (c->out->unsigned_key)
		snprintf(text + n, size - (size_t)n,
		    "; entry %llu changed the key without a signature of the key before",
		    (unsigned long long)c->out->unsigned_key);
}

static int check_all(struct verify *c, bool programs)
{
	uint64_t count = 0;
	int r = compare(c, &schema_tables);

	if (r == 0)
		r = check_chain(c);
	if (r == 0)
		r = check_end(c);
	if (r == 0)
		r = check_told(c);
	if (r == 0)
		r = verify_seal_end(c);
	if (r == 0)
		r = check_state(c);
	if (r == 0)
		r = check_file(c, programs);
	if (r == 0 && *c->missing)
		r = verify_bad(c, 0, "%s", c->missing);
	if (r == 0 && programs)
		r = check_programs(c, &count);
	if (r == 0)
		r = compare(c, &schema_guards);
	if (r != 0)
		return r < 0 ? -1 : 0;
	c->out->good = true;
	say_good(c, programs, count);
	return 0;
}

int vault_verify(struct vault *v, bool programs, struct vault_verdict *out)
{
	struct verify c = {.v = v, .scratch = open_scratch(v), .out = out};
	bool own = sqlite3_get_autocommit(v->db);
	int r = -1;

	memset(out, 0, sizeof(*out));
	if (!c.scratch)
		return -1;
	/* Before the view is taken: the trail goes on meanwhile. */
	endnote_read(v->path, &c.told);
	/* One view of the vault from the first entry to the last table; nothing is written, so a
	 * full or read-only vault can be verified too. */
	if (own && db_script(v, "BEGIN") < 0)
		goto out;
	if (db_script(c.scratch, "BEGIN") == 0)
		r = check_all(&c, programs);
	else
		db_say(v, "a scratch database cannot be used: %.400s", c.scratch->error);
	verify_seal_done(&c);
	if (own && !sqlite3_get_autocommit(v->db))
		sqlite3_exec(v->db, "ROLLBACK", NULL, NULL, NULL);
out:
	vault_close(c.scratch);
	return r;
}
