/*
 * 1. v->error holds the last failure; a transaction that was undone says nothing new when it is
 *    left (transaction.c).
 * 2. A statement that is taken is not handed out twice: a callback may ask the question that is
 *    being answered.
 */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include "db.h"

/* What SQLite's primary result codes mean in a shop, and what to do about it. */
static const struct {
	int code;
	const char *what, *remedy;
} words[] = {
    {SQLITE_FULL, "no space is left on the device that holds it",
        "free space there and ask again; nothing was lost: the request was not recorded"},
    {SQLITE_READONLY, "it cannot be written",
        "make the file, its folder and the file system writable for yoked; nothing was recorded"},
    {SQLITE_CANTOPEN, "it cannot be opened",
        "check that the folder is there and writable for yoked; nothing was recorded"},
    {SQLITE_PERM, "access to it is denied", "check owner and mode; nothing was recorded"},
    {SQLITE_BUSY, "another process holds it",
        "end that process or wait for it, then ask again; nothing was recorded"},
    {SQLITE_LOCKED, "it is locked by a question that is still being answered", "ask again"},
    {SQLITE_IOERR, "its device reports an error",
        "check the disk and the system's journal, then ask again; nothing was recorded"},
    {SQLITE_CORRUPT, "the file is damaged",
        "stop yoked and keep a copy of the file and its -wal; then bring back the last back-up, or save "
        "what can be saved with 'yoked --repair-vault'"},
    {SQLITE_NOTADB, "the file is no vault", "name another file, or bring back the last back-up"},
    {SQLITE_NOMEM, "memory ran out", "ask again; nothing was recorded"},
    {SQLITE_TOOBIG, "a text or piece is longer than 64 MiB", "shorten it; nothing was recorded"},
    {SQLITE_CONSTRAINT, "the trail or a program would be damaged by this",
        "run 'yoke audit verify'; nothing was recorded"},
    {SQLITE_ABORT, "the question was ended by a failure elsewhere", "ask again"},
};

int db_say(struct vault *v, const char *format, ...)
{
	va_list ap;
	int n = snprintf(v->error, sizeof(v->error), "vault %.500s: ", v->path);

	if (n < 0 || (size_t)n >= sizeof(v->error))
		return -1;
	va_start(ap, format);
	vsnprintf(v->error + n, sizeof(v->error) - n, format, ap);
	va_end(ap);
	return -1;
}

int db_damaged(struct vault *v, const char *what)
{
	return db_say(v,
	    "%s; the file is damaged or was edited: run 'yoke audit verify', keep a copy, bring "
	    "back the last back-up, or save what can be saved with 'yoked --repair-vault'",
	    what);
}

int db_fail(struct vault *v, int rc)
{
	int primary = rc & 0xff, system = sqlite3_system_errno(v->db);
	const char *text = sqlite3_errmsg(v->db);

	/* A full device is told as an I/O error where it is met outside a plain write. */
	if (primary == SQLITE_IOERR && (system == ENOSPC || system == EDQUOT))
		primary = SQLITE_FULL;
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++) {
		if (words[i].code == primary)
			return db_say(v, "%s (%s); %s", words[i].what, text, words[i].remedy);
	}
	return db_say(v, "%s (code %d); nothing was recorded", text, rc);
}

static struct db_statement *find(struct vault *v, sqlite3_stmt *s)
{
	for (unsigned i = 0; i < v->statements; i++) {
		if (v->statement[i].s == s)
			return &v->statement[i];
	}
	return NULL;
}

static int bind(sqlite3_stmt *s, int at, const struct db_arg *a)
{
	switch (a->type) {
	case DB_TEXT:
		return sqlite3_bind_text64(s, at, a->p, a->n, SQLITE_STATIC, SQLITE_UTF8);
	case DB_BLOB:
		return sqlite3_bind_blob64(s, at, a->n ? a->p : "", a->n, SQLITE_STATIC);
	case DB_INT:
		return sqlite3_bind_int64(s, at, a->i);
	case DB_NULL:
		break;
	}
	return sqlite3_bind_null(s, at);
}

static sqlite3_stmt *prepare(struct vault *v, const char *sql, unsigned flags)
{
	sqlite3_stmt *s = NULL;
	int rc = sqlite3_prepare_v3(v->db, sql, -1, flags, &s, NULL);

	if (rc != SQLITE_OK)
		db_fail(v, rc);
	return s;
}

static sqlite3_stmt *take(struct vault *v, const char *sql)
{
	sqlite3_stmt *s;

	for (unsigned i = 0; i < v->statements; i++) {
		struct db_statement *e = &v->statement[i];

		if (e->sql != sql)
			continue;
		if (e->taken)
			return prepare(v, sql, 0);
		e->taken = true;
		return e->s;
	}
	s = prepare(v, sql, SQLITE_PREPARE_PERSISTENT);
	if (s && v->statements < DB_STATEMENTS)
		v->statement[v->statements++] = (struct db_statement){sql, s, true};
	return s;
}

static sqlite3_stmt *bind_all(
    struct vault *v, sqlite3_stmt *s, const struct db_arg *arg, size_t args)
{
	for (size_t i = 0; s && i < args; i++) {
		int rc = bind(s, (int)i + 1, &arg[i]);

		if (rc != SQLITE_OK) {
			db_fail(v, rc);
			db_done(v, s);
			return NULL;
		}
	}
	return s;
}

sqlite3_stmt *db_stmt(struct vault *v, const char *sql, const struct db_arg *arg, size_t args)
{
	return bind_all(v, take(v, sql), arg, args);
}

sqlite3_stmt *db_stmt_once(struct vault *v, const char *sql, const struct db_arg *arg, size_t args)
{
	return bind_all(v, prepare(v, sql, 0), arg, args);
}

int db_next(struct vault *v, sqlite3_stmt *s)
{
	int rc = sqlite3_step(s);

	if (rc == SQLITE_ROW)
		return 1;
	if (rc == SQLITE_DONE)
		return 0;
	return db_fail(v, rc);
}

void db_done(struct vault *v, sqlite3_stmt *s)
{
	struct db_statement *e;

	if (!s)
		return;
	e = find(v, s);
	if (!e) {
		sqlite3_finalize(s);
		return;
	}
	sqlite3_reset(s);
	sqlite3_clear_bindings(s);
	e->taken = false;
}

int db_run_args(struct vault *v, const char *sql, const struct db_arg *arg, size_t args)
{
	sqlite3_stmt *s = db_stmt(v, sql, arg, args);
	int r;

	if (!s)
		return -1;
	do
		r = db_next(v, s);
	while (r == 1);
	db_done(v, s);
	return r;
}

int db_script(struct vault *v, const char *sql)
{
	int rc = sqlite3_exec(v->db, sql, NULL, NULL, NULL);

	return rc == SQLITE_OK ? 0 : db_fail(v, rc);
}

void db_forget(struct vault *v)
{
	for (unsigned i = 0; i < v->statements; i++)
		sqlite3_finalize(v->statement[i].s);
	v->statements = 0;
}

const char *db_column(sqlite3_stmt *s, int i, size_t *n)
{
	const unsigned char *t = sqlite3_column_text(s, i);

	if (n)
		*n = t ? (size_t)sqlite3_column_bytes(s, i) : 0;
	return t ? (const char *)t : "";
}

void db_cut(char *dst, size_t size, const char *src)
{
	size_t n = src ? strlen(src) : 0;

	if (n >= size) {
		n = size - 1;
		while (n > 0 && ((unsigned char)src[n] & 0xc0) == 0x80 && size - n < 4)
			n--;
	}
	if (n > 0)
		memcpy(dst, src, n);
	memset(dst + n, 0, size - n);
}

void db_copy(char *dst, size_t size, sqlite3_stmt *s, int i)
{
	db_cut(dst, size, db_column(s, i, NULL));
}

int db_sha(struct vault *v, sqlite3_stmt *s, int i, struct sha *out)
{
	const void *p = sqlite3_column_blob(s, i);

	if (!p || sqlite3_column_bytes(s, i) != (int)sizeof(out->b))
		return db_damaged(v, "a SHA-256 has not its length");
	memcpy(out->b, p, sizeof(out->b));
	return 0;
}

const char *vault_error(const struct vault *v)
{
	return v->error;
}
