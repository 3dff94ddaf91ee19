/*
 * 1. The copy is of one state: a reader of its own holds it (a transaction of the write-ahead log) while the
 *    service goes on writing. The log cannot be cut back meanwhile and grows by what is written.
 * 2. The copy goes page by page (SQLite's online backup), so that damage is copied too: it is verified
 *    before it gets its name, and a vault that does not verify makes no back-up.
 * 3. A descriptor of ours holds a lock on TO.part: two that write the same file would spoil each other's.
 */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>
#include "db.h"
#include "open.h"
#include "replace.h"
#include "rescue.h"

enum { STEP_PAGES = 256 };

/* Make TO.part, or take one that was left behind. Its descriptor; -1, said. */
static int make_part(const char *part, char *why, size_t n)
{
	static const char *const tail[] = {"-wal", "-shm", "-journal"};
	int fd = open(part, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY | O_NOFOLLOW, 0600);
	char name[RESCUE_PATH];
	struct stat st;

	if (fd < 0) {
		snprintf(why, n, "%s cannot be made: %s", part, strerror(errno));
		return -1;
	}
	if (fstat(fd, &st) < 0 || !S_ISREG(st.st_mode) || st.st_nlink != 1)
		snprintf(why, n, "%s is there already and is no left-over of a back-up", part);
	else if (flock(fd, LOCK_EX | LOCK_NB) < 0)
		snprintf(why, n, "%s is being written just now", part);
	else if (ftruncate(fd, 0) < 0 || fchmod(fd, 0600) < 0)
		snprintf(why, n, "%s cannot be written: %s", part, strerror(errno));
	else {
		for (size_t i = 0; i < 3; i++)
			if (snprintf(name, sizeof(name), "%s%s", part, tail[i]) < (int)sizeof(name))
				unlink(name);
		return fd;
	}
	close(fd);
	return -1;
}

static int copy_pages(struct vault *from, sqlite3 *to, const char *part, atomic_bool *stop, char *why, size_t n)
{
	sqlite3_backup *b = sqlite3_backup_init(to, "main", from->db, "main");
	int rc = b ? SQLITE_OK : sqlite3_errcode(to);

	while (b && rc == SQLITE_OK && !atomic_load(stop))
		rc = sqlite3_backup_step(b, STEP_PAGES);
	if (b && rc == SQLITE_DONE)
		rc = sqlite3_backup_finish(b);
	else if (b)
		sqlite3_backup_finish(b);
	if (atomic_load(stop)) {
		snprintf(why, n, "the back-up was ended: the service stops");
		return -1;
	}
	/* One file, whole in itself: the copy says of itself that it has a log. */
	if (rc == SQLITE_OK)
		rc = sqlite3_exec(to, "PRAGMA journal_mode=DELETE", NULL, NULL, NULL);
	if (rc == SQLITE_OK)
		return 0;
	snprintf(why, n, "the vault cannot be copied to %s: %s", part, sqlite3_errstr(rc));
	return -1;
}

static int64_t count_programs(struct vault *v)
{
	sqlite3_stmt *s = db_stmt(v, "SELECT count(*) FROM program WHERE sha IS NOT NULL", NULL, 0);
	int64_t n = s && db_next(v, s) == 1 ? sqlite3_column_int64(s, 0) : -1;

	db_done(v, s);
	return n;
}

static int copy(
    struct vault *from, const char *part, atomic_bool *stop, struct rescue_content *out, char *why, size_t n)
{
	sqlite3 *to = NULL;
	int64_t programs;
	int r = -1;

	/* The first question of a transaction decides which state it sees. */
	if (db_script(from, "BEGIN") < 0 || (programs = count_programs(from)) < 0) {
		snprintf(why, n, "%s", vault_error(from));
		return -1;
	}
	out->programs = (uint64_t)programs;
	if (sqlite3_open_v2(part, &to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) !=
	        SQLITE_OK ||
	    sqlite3_exec(to, "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;", NULL, NULL, NULL) !=
	        SQLITE_OK)
		snprintf(why, n, "%s cannot be written: %s", part, to ? sqlite3_errmsg(to) : "memory");
	else
		r = copy_pages(from, to, part, stop, why, n);
	sqlite3_close_v2(to);
	db_script(from, "ROLLBACK");
	return r;
}

static int is_stopped(void *ctx)
{
	return atomic_load((atomic_bool *)ctx);
}

/* 0, -1 said. A service that stops does not wait until a large vault is read. */
static int check(
    const char *part, atomic_bool *stop, struct rescue_content *out, char *why, size_t n)
{
	struct vault *v = open_reader(part, why, n);
	struct vault_verdict verdict = {0};
	int r;

	if (!v)
		return -1;
	sqlite3_progress_handler(v->db, 1000, is_stopped, stop);
	r = vault_verify(v, true, &verdict);
	if (atomic_load(stop))
		snprintf(why, n, "the back-up was ended: the service stops");
	else if (r < 0)
		snprintf(why, n, "the back-up cannot be read again: %s", vault_error(v));
	vault_close(v);
	if (r < 0 || atomic_load(stop))
		return -1;
	if (!verdict.good) {
		snprintf(why, n, "the vault, as it was copied, does not verify: %s", verdict.text);
		return -1;
	}
	out->events = verdict.events;
	out->head = verdict.head;
	return 0;
}

/* Its name at last. 0, -1 said. */
static int name(const char *part, const char *to, char *why, size_t n)
{
	int r = renameat2(AT_FDCWD, part, AT_FDCWD, to, RENAME_NOREPLACE);

	if (r < 0 && (errno == EINVAL || errno == ENOSYS)) { /* not every file system knows how */
		r = link(part, to);
		if (r == 0)
			unlink(part);
	}
	if (r == 0 && replace_sync(to) == 0)
		return 0;
	snprintf(why, n, "%s cannot be named %s: %s", part, to, strerror(errno));
	return -1;
}

int rescue_backup(const char *path, const char *to, atomic_bool *stop, struct rescue_content *out,
    char *why, size_t n)
{
	struct vault *from;
	char part[RESCUE_PATH];
	struct stat st;
	int fd, r = -1;

	*out = (struct rescue_content){0};
	if (lstat(to, &st) == 0) {
		snprintf(why, n, "%s is there already: nothing is overwritten; name a new file", to);
		return -1;
	}
	if (snprintf(part, sizeof(part), "%s.part", to) >= (int)sizeof(part)) {
		snprintf(why, n, "the path is too long");
		return -1;
	}
	from = open_reader(path, why, n);
	if (!from)
		return -1;
	fd = make_part(part, why, n);
	if (fd < 0)
		goto out;
	if (copy(from, part, stop, out, why, n) < 0 || check(part, stop, out, why, n) < 0)
		goto remove;
	if (fsync(fd) < 0 || fstat(fd, &st) < 0) {
		snprintf(why, n, "%s cannot be flushed to its disk: %s", part, strerror(errno));
		goto remove;
	}
	out->bytes = st.st_size;
	r = name(part, to, why, n);
remove:
	if (r < 0)
		unlink(part);
	close(fd);
out:
	vault_close(from);
	return r;
}
