/* One file on a share, by the descriptor of its folder: read with its sum, written so that it is
 * there after a power cut. */
#ifndef FILE_H
#define FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "folder.h"

/* Read, as the folder's read. */
int file_read(int dir, const char *name, bool keep, const struct folder_seen *guess,
    const struct folder_tick *tick, struct folder_seen *out);

/* Write, as the folder's put; its way to the disk begins. The descriptor, for file_prove(), or a
 * negative errno. */
int file_put(int dir, const char *name, const struct folder_seen *what, const struct folder_seen *like,
    const struct folder_tick *tick);

/* Sync and close fd, open the name again, read and compare, as the folder's prove. */
int file_prove(int dir, const char *name, int fd, const struct folder_seen *what,
    const struct folder_tick *tick);

/* Remove; a name that is not there is no error. 0, or a negative errno. */
int file_remove(int dir, const char *name);

/* Sync a folder, where its file system can. 0, or a negative errno. */
int file_sync_folder(int dir);

#endif
