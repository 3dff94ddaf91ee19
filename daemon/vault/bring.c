#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>
#include "append.h"
#include "db.h"
#include "open.h"
#include "replace.h"
#include "rescue.h"
#include "stale.h"

/* Copy a file to a new one, flushed. 0; -1 with errno. */
static int copy(const char *from, const char *to)
{
	int in = open(from, O_RDONLY | O_CLOEXEC | O_NOCTTY), out = -1, r = -1, saved;
	char *buffer = malloc(1 << 20);
	ssize_t n = -1;

	if (in < 0 || !buffer)
		goto out;
	out = open(to, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
	if (out < 0)
		goto out;
	while ((n = read(in, buffer, 1 << 20)) > 0)
		for (ssize_t done = 0; done < n;) {
			ssize_t k = write(out, buffer + done, (size_t)(n - done));

			if (k < 0)
				goto out;
			done += k;
		}
	r = n < 0 || fsync(out) < 0 ? -1 : 0;
out:
	saved = errno;
	if (in >= 0)
		close(in);
	if (out >= 0)
		close(out);
	free(buffer);
	errno = saved;
	return r;
}

/* The copy, with its log when somebody copied a vault by hand. 0, -1 said. */
static int copy_both(const char *file, const char *new, char *why, size_t n)
{
	char from[RESCUE_PATH], to[RESCUE_PATH];
	struct stat st;

	if (stat(file, &st) == 0 && !S_ISREG(st.st_mode)) {
		snprintf(why, n, "%s is no regular file; name a back-up", file);
		return -1;
	}
	if (copy(file, new) < 0) {
		snprintf(why, n, "%s cannot be copied to %s: %s", file, new, strerror(errno));
		return -1;
	}
	if (snprintf(from, sizeof(from), "%s-wal", file) >= (int)sizeof(from) ||
	    snprintf(to, sizeof(to), "%s-wal", new) >= (int)sizeof(to) || stat(from, &st) < 0)
		return 0;
	if (copy(from, to) == 0)
		return 0;
	snprintf(why, n, "%s cannot be copied to %s: %s", from, to, strerror(errno));
	return -1;
}

static void hex(const struct sha *sha, char out[YOKE_SHA_HEX + 1])
{
	for (int i = 0; i < YOKE_SHA_SIZE; i++)
		sprintf(out + 2 * i, "%02x", sha->b[i]);
}

/* Where the trail comes from, and what cannot be known any more. */
static int record(struct vault *v, const struct vault_by *by, const char *file,
    const struct rescue_content *c)
{
	char text[1500], head[YOKE_SHA_HEX + 1], detail[200];
	struct vault_about a = {.outcome = "backup", .text = text, .detail = detail};

	hex(&c->head, head);
	snprintf(text, sizeof(text),
	    "brought back from %.1000s, whose last entry is %llu; what was recorded after it in another "
	    "copy of this trail is not here",
	    file, (unsigned long long)c->events);
	snprintf(detail, sizeof(detail), "{\"events\":%llu,\"head\":\"%s\"}",
	    (unsigned long long)c->events, head);
	if (vault_begin(v) < 0)
		return -1;
	if (vault_record_from_backup(v, by, &a) == 0 ||
	    stale(v, by, "backup",
	        "the vault was brought back from a back-up: what happened since is not known; do not run "
	        "the machine with what it holds before you have sent, restored or fetched") < 0) {
		vault_rollback(v);
		return -1;
	}
	return vault_commit(v);
}

static int64_t programs(struct vault *v)
{
	sqlite3_stmt *s = db_stmt(v, "SELECT count(*) FROM program WHERE sha IS NOT NULL", NULL, 0);
	int64_t n = s && db_next(v, s) == 1 ? sqlite3_column_int64(s, 0) : 0;

	db_done(v, s);
	return n;
}

/* Verify PATH.new, and let its trail go on. 0 and *end, -1 said. */
static int take(const char *new, const char *file, const struct vault_by *by,
    struct rescue_content *out, struct endnote *end, char *why, size_t n)
{
	struct vault *v = vault_open(new, why, n);
	struct vault_verdict verdict;
	int r = -1;

	if (!v)
		return -1;
	if (vault_verify(v, true, &verdict) < 0) {
		snprintf(why, n, "%s", vault_error(v));
	} else if (!verdict.good) {
		snprintf(why, n, "%s does not verify: %s", file, verdict.text);
	} else if (verdict.events == 0) {
		snprintf(why, n, "%s has no entry: it is no back-up of a vault", file);
	} else {
		out->events = verdict.events;
		out->head = verdict.head;
		out->programs = (uint64_t)programs(v);
		r = record(v, by, file, out) < 0 || append_end(v, &end->seq, &end->head) < 0 ? -1 : 0;
		if (r < 0)
			snprintf(why, n, "%s", vault_error(v));
	}
	vault_close(v);
	return r;
}

static bool is_there(const char *path)
{
	struct stat st;

	return lstat(path, &st) == 0 && st.st_size > 0;
}

int rescue_bring(const char *file, const char *path, bool set_aside, const struct vault_by *by,
    struct rescue_content *out, char *aside, char *why, size_t n)
{
	struct vault *held = open_lock(path, why, n);
	char new[RESCUE_PATH] = "", log[RESCUE_PATH];
	struct endnote end = {0};
	struct stat st;
	int r = -1;

	*out = (struct rescue_content){0};
	*aside = 0;
	if (!held)
		return -1;
	if (snprintf(log, sizeof(log), "%s-wal", held->path) >= (int)sizeof(log))
		*log = 0;
	if (!set_aside && (is_there(held->path) || is_there(log))) {
		snprintf(why, n,
		    "%s is there: nothing is overwritten; with --set-aside it is moved aside first", path);
		goto out;
	}
	if (replace_begin(held, new) < 0) {
		snprintf(why, n, "%s", vault_error(held));
		goto out;
	}
	if (copy_both(file, new, why, n) < 0 || take(new, file, by, out, &end, why, n) < 0)
		goto out;
	out->bytes = stat(new, &st) == 0 ? st.st_size : 0;
	r = replace_end(held, new, &end, "aside", by->utc_us, aside);
	if (r < 0)
		snprintf(why, n, "%s", vault_error(held));
out:
	if (r < 0 && *new)
		replace_undo(new);
	vault_close(held);
	return r;
}
