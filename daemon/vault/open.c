/*
 * 1. One process at a time: the lock file beside the vault is held from open to close. It is a file
 * of its own because closing any descriptor of an SQLite file drops that process's locks on it.
 * 2. A vault is recognised by its mark (application_id); a schema of a later version is left alone.
 * 3. Only a vault that can be written is opened: a service that cannot record anything must not
 * start.
 * 4. What the note of the trail's end tells must be there (endnote.h): a vault that lost its log, or was put
 *    back, is whole in itself and must not be served as if nothing were missing.
 * 5. File and lock file are made with mode 0600; SQLite gives the same to its -wal and -shm.
 */
#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>
#include "db.h"
#include "endnote.h"
#include "hash.h"
#include "open.h"
#include "schema.h"
#include "stage.h"
#include "upgrade.h"

static int take_lock(struct vault *v)
{
	char *name;

	if (asprintf(&name, "%s.lock", v->path) < 0)
		return db_say(v, "memory ran out");
	v->lock = open(name, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY, 0600);
	free(name);
	if (v->lock < 0)
		return db_say(v,
		    "the lock file beside it cannot be opened: %s; make its folder writable"
		    " for yoked",
		    strerror(errno));
	if (flock(v->lock, LOCK_EX | LOCK_NB) == 0)
		return 0;
	return errno == EWOULDBLOCK
	           ? db_say(v, "another yoked has it open; end that one first")
	           : db_say(v, "the lock file beside it cannot be locked: %s", strerror(errno));
}

/* Make the file with its mode before SQLite does it with the process's umask. */
static int make_file(struct vault *v)
{
	int fd = open(v->path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC | O_NOCTTY, 0600);
	struct stat st;

	if (fd >= 0) {
		close(fd);
		return 0;
	}
	if (errno != EEXIST)
		return db_say(v, "it cannot be made: %s; make its folder writable for yoked",
		    strerror(errno));
	if (stat(v->path, &st) < 0)
		return db_say(v, "it cannot be read: %s", strerror(errno));
	if (!S_ISREG(st.st_mode))
		return db_say(v, "it is no regular file; name another one");
	return 0;
}

static int connect_db(struct vault *v, const char *name)
{
	int rc = sqlite3_open_v2(
	    name, &v->db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX, NULL);

	if (!v->db)
		return db_say(v, "memory ran out");
	if (rc != SQLITE_OK)
		return db_fail(v, rc);
	sqlite3_extended_result_codes(v->db, 1);
	sqlite3_busy_timeout(v->db, DB_WAIT_MS);
	sqlite3_limit(v->db, SQLITE_LIMIT_LENGTH, DB_TEXT_MAX);
	sqlite3_db_config(v->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
	/* Whoever only looks, or is refused, leaves the log as it is: of a damaged one SQLite would take the
	 * beginning and remove the rest, of which a repair may save more. */
	sqlite3_db_config(v->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
	/* Programs are never removed, and what a dropped stage leaves in free pages is no secret.
	 */
	return db_script(v, "PRAGMA trusted_schema=OFF; PRAGMA cell_size_check=ON;"
	                    "PRAGMA foreign_keys=ON; PRAGMA secure_delete=OFF;");
}

static int ask_int(struct vault *v, const char *sql, int64_t *out)
{
	sqlite3_stmt *s = db_stmt(v, sql, NULL, 0);
	int r = s ? db_next(v, s) : -1;

	*out = r == 1 ? sqlite3_column_int64(s, 0) : 0;
	db_done(v, s);
	return r < 0 ? -1 : 0;
}

static int use_wal(struct vault *v)
{
	sqlite3_stmt *s = db_stmt(v, "PRAGMA journal_mode=WAL", NULL, 0);
	int r = s ? db_next(v, s) : -1;

	if (r == 1 && strcmp(db_column(s, 0, NULL), "wal") != 0)
		r = db_say(v,
		    "its file system cannot keep a write-ahead log; put the vault on a local disk");
	db_done(v, s);
	if (r < 0)
		return -1;
	/* The log grows with a large program; afterwards it is cut back. */
	return db_script(v, "PRAGMA synchronous=FULL; PRAGMA journal_size_limit=16777216;");
}

/* Recognise the file: 0 it is a vault, 1 it is empty, 2 it is one of an earlier version; -1. */
static int recognise(struct vault *v)
{
	int64_t mark, version, tables;

	if (sqlite3_db_readonly(v->db, "main") == 1)
		return db_fail(v, SQLITE_READONLY);
	if (ask_int(v, "PRAGMA application_id", &mark) < 0 ||
	    ask_int(v, "PRAGMA user_version", &version) < 0 ||
	    ask_int(v, "SELECT count(*) FROM sqlite_schema", &tables) < 0)
		return -1;
	if (mark == 0 && version == 0 && tables == 0)
		return 1;
	if (mark != SCHEMA_APPLICATION)
		return db_say(v, "the file is a database of something else; name another file");
	if (version > SCHEMA_VERSION)
		return db_say(v,
		    "it was written by a later version of yoked (layout %lld, this one knows %d); "
		    "install"
		    " that version again; nothing was changed",
		    (long long)version, SCHEMA_VERSION);
	if (version < 1)
		return db_damaged(v, "its layout has no version");
	return version < SCHEMA_VERSION ? 2 : 0;
}

static int fill(struct vault *v)
{
	if (vault_begin(v) < 0)
		return -1;
	if (db_script(v, schema_sql) < 0) {
		vault_rollback(v);
		return -1;
	}
	return vault_commit(v);
}

/* The small tables that decide what is sent where are read through; the rest is vault_verify's. */
static int check_state(struct vault *v)
{
	static const char *const sql[] = {"PRAGMA quick_check('trail')",
	    "PRAGMA quick_check('orders')", "PRAGMA quick_check('machine')",
	    "PRAGMA quick_check('pair')", "PRAGMA quick_check('stick')"};
	int r = 0;

	for (size_t i = 0; i < sizeof(sql) / sizeof(sql[0]) && r == 0; i++) {
		sqlite3_stmt *s = db_stmt(v, sql[i], NULL, 0);

		r = s ? db_next(v, s) : -1;
		if (r == 1)
			r = strcmp(db_column(s, 0, NULL), "ok") == 0
			        ? 0
			        : db_damaged(v, db_column(s, 0, NULL));
		db_done(v, s);
	}
	return r;
}

static struct vault *make(const char *path)
{
	struct vault *v = calloc(1, sizeof(*v));

	if (!v)
		return NULL;
	v->lock = v->end = -1;
	v->pid = getpid();
	/* "file:..." and ":memory:" are names to SQLite; a file's path is only a path. */
	if (asprintf(&v->path, "%s%s", *path && *path != '/' ? "./" : "", path) < 0) {
		v->path = NULL;
		goto fail;
	}
	v->hash = hash_new();
	if (!v->hash)
		goto fail;
	return v;
fail:
	free(v->path);
	free(v);
	return NULL;
}

struct vault *vault_open(const char *path, char *why, size_t n)
{
	struct vault *v = make(path);
	int found;

	if (!v) {
		snprintf(why, n, "vault %s: memory ran out", path);
		return NULL;
	}
	if (!*path) {
		db_say(v, "its path is empty; name a file");
		goto fail;
	}
	if (take_lock(v) < 0 || make_file(v) < 0 || connect_db(v, v->path) < 0)
		goto fail;
	found = recognise(v);
	if (found < 0 || use_wal(v) < 0)
		goto fail;
	if ((found == 1 && fill(v) < 0) || (found == 0 && check_state(v) < 0) ||
	    endnote_open(v, found == 1) < 0 ||
	    (found == 2 && (upgrade(v) < 0 || check_state(v) < 0)))
		goto fail;
	sqlite3_db_config(v->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, NULL);
	if (stage_sweep(v) < 0)
		goto fail;
	return v;
fail:
	snprintf(why, n, "%s", v->error);
	vault_close(v);
	return NULL;
}

struct vault *open_reader(const char *path, char *why, size_t n)
{
	struct vault *v = make(path);
	int found = -1;

	if (!v) {
		snprintf(why, n, "vault %s: memory ran out", path);
		return NULL;
	}
	/* Readers of a write-ahead log write into its index: "read-only" is said to SQLite, not to
	 * the kernel. */
	if (access(v->path, R_OK) < 0)
		db_say(v, "it cannot be read: %s", strerror(errno));
	else if (connect_db(v, v->path) == 0 && db_script(v, "PRAGMA query_only=ON") == 0)
		found = recognise(v);
	if (found == 0)
		return v;
	if (found > 0)
		db_say(v, found == 1 ? "it is empty"
		                     : "it was written by an earlier version; start yoked once");
	snprintf(why, n, "%s", v->error);
	vault_close(v);
	return NULL;
}

struct vault *open_lock(const char *path, char *why, size_t n)
{
	struct vault *v = make(path);

	if (v && take_lock(v) == 0)
		return v;
	snprintf(why, n, "%s", v ? v->error : "memory ran out");
	vault_close(v);
	return NULL;
}

struct vault *open_scratch(struct vault *owner)
{
	struct vault *v = make("");

	if (!v) {
		db_say(owner, "memory ran out");
		return NULL;
	}
	if (connect_db(v, "") < 0 ||
	    db_script(v, "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;") < 0 ||
	    db_script(v, schema_sql) < 0)
		goto fail;
	return v;
fail:
	db_say(owner, "a scratch database cannot be made: %.400s", v->error);
	vault_close(v);
	return NULL;
}

void vault_close(struct vault *v)
{
	if (!v)
		return;
	assert(v->pid == getpid());
	while (v->depth > 0)
		vault_rollback(v);
	stage_orphan(v);
	db_forget(v);
	/* With every statement finalised this ends the log and cannot fail but for the device. */
	sqlite3_close_v2(v->db);
	endnote_close(v);
	if (v->lock >= 0)
		close(v->lock);
	hash_free(v->hash);
	free(v->path);
	free(v);
}
