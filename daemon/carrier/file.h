/* One file on a share, by the descriptor of its folder: read with its sum, written so that it is
 * there after a power cut. */
#ifndef FILE_H
#define FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "folder.h"

/*
 * Read a regular file; a link is not followed. keep: also keep the bytes in sealed memory. A name
 * that is not there is no error. 0 with *out filled; -ELOOP or -EISDIR or -ENXIO: no regular file;
 * -EFBIG: larger than a program may be; another negative errno. On an error out->fd is -1.
 */
int file_read(
    int dir, const char *name, bool keep, const struct folder_tick *tick, struct folder_seen *out);

/*
 * Write size bytes under a name that is not there, sync them, close, open again, read back and
 * compare with want. like: whose owner and mode the file gets as far as allowed, NULL for the
 * defaults. The file stays on an error, for the caller to remove. 0; -EBADMSG when what was read
 * back differs; another negative errno.
 */
int file_write(int dir, const char *name, const unsigned char *bytes, size_t size,
    const struct sha *want, const struct folder_seen *like, const struct folder_tick *tick);

/* Remove; a name that is not there is no error. 0, or a negative errno. */
int file_remove(int dir, const char *name);

/* Sync a folder, where its file system can. 0, or a negative errno. */
int file_sync_folder(int dir);

#endif
