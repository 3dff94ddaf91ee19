/* One file on a share, by the descriptor of its folder: read with its sum, written so that it is
 * there after a power cut. */
#ifndef FILE_H
#define FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/event.h"

struct sha256;

/* What a name holds. */
struct file_seen {
	bool there;
	uint64_t size;
	struct sha sha;
	unsigned mode; /* permission bits */
	unsigned uid, gid;
	int fd; /* sealed memory with the bytes, or -1: belongs to the holder */
};

/* Called between chunks with the bytes done; anything but 0 ends the work with that (negative)
 * value. */
struct file_tick {
	int (*call)(void *ctx, uint64_t done);
	void *ctx;
};

/*
 * Read a regular file; a link is not followed. keep: also keep the bytes in sealed memory. A name
 * that is not there is no error. 0 with *out filled; -ELOOP or -EISDIR or -ENXIO: no regular file;
 * -EFBIG: larger than a program may be; another negative errno. On an error out->fd is -1.
 */
int file_read(
    int dir, const char *name, bool keep, const struct file_tick *tick, struct file_seen *out);

/*
 * Write size bytes under a name that is not there, sync them, close, open again, read back and
 * compare with want. like: whose owner and mode the file gets as far as allowed, NULL for the
 * defaults. The file stays on an error, for the caller to remove. 0; -EBADMSG when what was read
 * back differs; another negative errno.
 */
int file_write(int dir, const char *name, const unsigned char *bytes, size_t size,
    const struct sha *want, const struct file_seen *like, const struct file_tick *tick);

/*
 * Give the file name a second name, or where the share cannot, write a copy from the kept bytes. 0;
 * -EBADMSG when the second name does not hold what was seen; another negative errno.
 */
int file_keep_beside(int dir, const char *name, const char *beside, const struct file_seen *seen,
    const struct file_tick *tick);

/* Remove; a name that is not there is no error. 0, or a negative errno. */
int file_remove(int dir, const char *name);

/* Sync a folder, where its file system can. 0, or a negative errno. */
int file_sync_folder(int dir);

/* True when both hold the same bytes, or both are not there. */
bool file_same(const struct file_seen *a, const struct file_seen *b);

#endif
