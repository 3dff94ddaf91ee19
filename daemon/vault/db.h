/*
 * The connection: statements, transactions and the words for what went wrong. Inside the vault
 * only.
 *
 * A statement is known by the address of its SQL literal and prepared once. Arguments are bound in
 * place: they must live until db_done.
 */
#ifndef VAULT_DB_H
#define VAULT_DB_H

#include <sqlite3.h>
#include <string.h>
#include <sys/types.h>
#include "vault.h"

enum {
	DB_STATEMENTS = 64,     /* more than there are literals; the rest is prepared each time */
	DB_TEXT_MAX = 64 << 20, /* longest text or piece, bytes */
	DB_WAIT_MS = 2000,      /* for a back-up that holds the file */
};

struct hash;

struct db_statement {
	const char *sql;
	sqlite3_stmt *s;
	bool taken;
};

struct vault {
	sqlite3 *db;
	char *path;
	int lock;  /* descriptor of the lock file, -1 for a scratch database */
	int end;   /* of the note of the trail's end (endnote.h), -1 for a scratch database or a reader */
	uint64_t end_seq; /* what it is to tell when the transaction is committed */
	struct sha end_head;
	bool end_moved;
	pid_t pid; /* who opened it: a connection never crosses fork */
	unsigned depth;
	bool undone;    /* the open transaction was rolled back inside; it cannot be committed */
	bool leftovers; /* pieces of a stage may be there that nobody will keep */
	struct vault_stage *stages;
	struct hash *hash;
	struct db_statement statement[DB_STATEMENTS];
	unsigned statements;
	char error[1024];
};

struct db_arg {
	enum { DB_TEXT, DB_INT, DB_BLOB, DB_NULL } type;
	const void *p;
	size_t n;
	int64_t i;
};

/* Arguments by type. TEXT of NULL is "". */
static inline struct db_arg db_text(const char *s)
{
	return (struct db_arg){DB_TEXT, s ? s : "", s ? strlen(s) : 0, 0};
}

static inline struct db_arg db_bytes(const void *p, size_t n)
{
	return (struct db_arg){DB_BLOB, p, n, 0};
}

static inline struct db_arg db_int(int64_t i)
{
	return (struct db_arg){DB_INT, NULL, 0, i};
}

#define DB_ARGS(...)                                                                               \
	(const struct db_arg[]){__VA_ARGS__},                                                      \
	    sizeof((const struct db_arg[]){__VA_ARGS__}) / sizeof(struct db_arg)

/* Prepare (or take from the cache) and bind. NULL on failure, told. Give it back with db_done. */
sqlite3_stmt *db_stmt(struct vault *v, const char *sql, const struct db_arg *arg, size_t args);
/* The same for a statement that is put together and not worth keeping. */
sqlite3_stmt *db_stmt_once(struct vault *v, const char *sql, const struct db_arg *arg, size_t args);
#define db_query(v, sql, ...) db_stmt(v, sql, DB_ARGS(__VA_ARGS__))

/* 1: a row is there; 0: no more; -1: failed, told. */
int db_next(struct vault *v, sqlite3_stmt *s);
void db_done(struct vault *v, sqlite3_stmt *s); /* NULL does nothing */

/* Run a statement that gives no row. 0; -1 failed, told. */
int db_run_args(struct vault *v, const char *sql, const struct db_arg *arg, size_t args);
#define db_run(v, sql, ...) db_run_args(v, sql, DB_ARGS(__VA_ARGS__))

/* Run several statements without arguments, uncached. 0; -1 failed, told. */
int db_script(struct vault *v, const char *sql);

/* Column i as text, never NULL, and its length. Belongs to the statement, until its next step. */
const char *db_column(sqlite3_stmt *s, int i, size_t *n);

/* Column i into a fixed array, cut at a character's end when it is too long. */
void db_copy(char *dst, size_t size, sqlite3_stmt *s, int i);

/* Put src into dst of size bytes, cut at a character's end when it is too long. NULL is "". */
void db_cut(char *dst, size_t size, const char *src);

/* Column i as a SHA-256: 0, or -1 when it is none (told as damage). */
int db_sha(struct vault *v, sqlite3_stmt *s, int i, struct sha *out);

/* Tell what SQLite reports (code rc) in words, with the remedy. Always -1. */
int db_fail(struct vault *v, int rc);

/* Tell something of our own: "vault PATH: " and the text. Always -1. */
int db_say(struct vault *v, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Tell that the file's content is not what it must be. Always -1. */
int db_damaged(struct vault *v, const char *what);

/* Finalise every statement. */
void db_forget(struct vault *v);

#endif
