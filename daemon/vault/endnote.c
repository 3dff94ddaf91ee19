#include "endnote.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include "append.h"
#include "hash.h"

enum { SUM_AT = 86, SUM_DIGITS = 7 };

static int open_note(const char *path, int flags)
{
	char *name;
	int fd;

	if (asprintf(&name, "%s.end", path) < 0)
		return -1;
	fd = open(name, flags | O_CLOEXEC | O_NOCTTY | O_NOFOLLOW, 0600);
	free(name);
	return fd;
}

static void hex(const unsigned char *b, size_t n, char *out)
{
	for (size_t i = 0; i < n; i++)
		sprintf(out + 2 * i, "%02x", b[i]);
}

static int compose(const struct endnote *e, char line[ENDNOTE_SIZE + 1])
{
	struct hash *h = hash_new();
	char sum[YOKE_SHA_HEX + 1];
	struct sha sha;
	int r;

	if (!h)
		return -1;
	sprintf(line, "%020llu ", (unsigned long long)e->seq);
	hex(e->head.b, sizeof(e->head.b), line + 21);
	line[SUM_AT - 1] = ' ';
	hash_start(h);
	hash_add(h, line, SUM_AT);
	r = hash_end(h, &sha);
	hash_free(h);
	if (r < 0)
		return -1;
	hex(sha.b, sizeof(sha.b), sum);
	sprintf(line + SUM_AT, "%.*s\n", SUM_DIGITS, sum);
	return 0;
}

static int nibble(char c)
{
	return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

void endnote_read(const char *path, struct endnote *out)
{
	char line[ENDNOTE_SIZE + 1] = "", again[ENDNOTE_SIZE + 1];
	struct endnote e = {0};
	int fd = open_note(path, O_RDONLY);
	ssize_t n = fd < 0 ? -1 : pread(fd, line, sizeof(line), 0);

	if (fd >= 0)
		close(fd);
	*out = (struct endnote){0};
	if (n != ENDNOTE_SIZE)
		return;
	for (int i = 0; i < 20; i++)
		e.seq = e.seq * 10 + (uint64_t)(line[i] - '0');
	for (int i = 0; i < YOKE_SHA_SIZE; i++)
		e.head.b[i] = (unsigned char)(nibble(line[21 + 2 * i]) << 4 |
		                              nibble(line[22 + 2 * i]));
	/* Whatever was damaged, the line that these values make is another one. */
	if (compose(&e, again) == 0 && memcmp(line, again, ENDNOTE_SIZE) == 0)
		*out = e;
}

static int put(int fd, const struct endnote *e)
{
	char line[ENDNOTE_SIZE + 1];
	ssize_t n;

	if (compose(e, line) < 0) {
		errno = ENOMEM;
		return -1;
	}
	n = pwrite(fd, line, ENDNOTE_SIZE, 0);
	if (n >= 0 && n != ENDNOTE_SIZE)
		errno = ENOSPC;
	return n == ENDNOTE_SIZE ? 0 : -1;
}

int endnote_put(const char *path, const struct endnote *e)
{
	int fd = open_note(path, O_WRONLY | O_CREAT), r, saved;

	if (fd < 0)
		return -1;
	r = put(fd, e) < 0 || fsync(fd) < 0 ? -1 : 0;
	saved = errno;
	close(fd);
	errno = saved;
	return r;
}

/* The trail has this entry, with this hash: 1, 0, -1. */
static int has_entry(struct vault *v, const struct endnote *e)
{
	sqlite3_stmt *s = db_query(v, "SELECT 1 FROM event WHERE seq=? AND hash=?",
	    db_int((int64_t)e->seq), db_bytes(e->head.b, sizeof(e->head.b)));
	int r = s ? db_next(v, s) : -1;

	db_done(v, s);
	return r;
}

static int compare(struct vault *v, const struct endnote *told, bool fresh)
{
	uint64_t seq = 0;
	struct sha head;
	int r;

	if (told->seq == 0)
		return 0;
	if (append_end(v, &seq, &head) < 0)
		return -1;
	r = has_entry(v, told);
	if (r != 0)
		return r < 0 ? -1 : 0;
	if (fresh)
		return db_say(v,
		    "the file is gone: entries 1 to %llu were recorded (%.300s.end tells it); bring the "
		    "last back-up back: 'yoked --restore-vault'",
		    (unsigned long long)told->seq, v->path);
	if (seq < told->seq)
		return db_say(v,
		    "entries %llu to %llu were recorded and are missing: the write-ahead log beside it was "
		    "cut or removed, or the file is an older copy; keep a copy of all files there, then "
		    "'yoked --repair-vault' takes what is left, or bring back the last back-up",
		    (unsigned long long)seq + 1, (unsigned long long)told->seq);
	return db_say(v,
	    "entry %llu is not the one that was recorded: the file is another vault's, or was "
	    "edited; keep a copy of all files there, then 'yoked --repair-vault' takes what is there, or "
	    "bring back the last back-up",
	    (unsigned long long)told->seq);
}

int endnote_open(struct vault *v, bool fresh)
{
	struct endnote told, now = {0};

	endnote_read(v->path, &told);
	if (compare(v, &told, fresh) < 0)
		return -1;
	/* Without an end nothing is recorded, and verify says why. */
	if (append_end(v, &now.seq, &now.head) < 0)
		return 0;
	v->end = open_note(v->path, O_RDWR | O_CREAT);
	if (v->end < 0)
		return db_say(v,
		    "the note of the trail's end beside it cannot be opened: %s; make its folder "
		    "writable for yoked",
		    strerror(errno));
	if (now.seq == told.seq && now.seq > 0)
		return 0;
	/* On a full disk it tells less than it could until there is room; and an end that the entries do not
	 * have is verify's to find. */
	if (now.seq == 0 || has_entry(v, &now) == 1)
		put(v->end, &now);
	return 0;
}

void endnote_moved(struct vault *v, uint64_t seq, const struct sha *head)
{
	v->end_seq = seq;
	v->end_head = *head;
	v->end_moved = true;
}

void endnote_done(struct vault *v)
{
	struct endnote now = {v->end_seq, v->end_head};

	if (v->end_moved && v->end >= 0)
		put(v->end, &now);
	v->end_moved = false;
}

void endnote_undone(struct vault *v)
{
	v->end_moved = false;
}

void endnote_close(struct vault *v)
{
	if (v->end >= 0)
		close(v->end);
	v->end = -1;
}
