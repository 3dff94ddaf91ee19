/*
 * Talk with a file server by FTP, FTPS or SFTP, one call after the other, through libcurl. Calls give 0
 * or a negative value as those of a folder do: what a server says is in the order's said, and
 * refused tells that a rename or removal was not done. Paths are absolute.
 *
 * Every call has its bounds in time, gives heartbeats through the order's tick and ends when that
 * says so. After a call that failed nothing is left of its connection, and the next makes a new one.
 */
#ifndef REMOTE_SESSION_H
#define REMOTE_SESSION_H

#include "folder.h"

struct remote_session;

/* Where bytes go that come in: 0, or a negative errno that ends the call. */
typedef int remote_take(void *ctx, const void *bytes, size_t n);

/*
 * Read password and key and make ready; nobody is called yet. r and order outlive it. NULL with the
 * fault set: SECRET, NAME, ORDER (no libcurl).
 */
struct remote_session *remote_session_new(
    const struct line_remote *r, uint32_t item, struct folder_order *order, struct fault *fault);

/* One more holder, and one less; the last one ends it. NULL is allowed. */
struct remote_session *remote_session_hold(struct remote_session *s);
void remote_session_free(struct remote_session *s);

/* True when r means the same login at the same server. */
bool remote_session_fits(const struct remote_session *s, const struct line_remote *r);

/* "sftp://host:22", for messages. */
const char *remote_session_name(const struct remote_session *s);

/* True when the server's "not there" may have another reason too, so that a list must confirm it. */
bool remote_session_vague(const struct remote_session *s);

/* Read a file. -ENOENT: the server says that it is not there. */
int remote_session_get(struct remote_session *s, const char *path, remote_take *take, void *ctx);

/* What the server says is the size of a file, in *size; -1 when it does not say. */
int remote_session_size(struct remote_session *s, const char *path, int64_t *size);

/* Write a file. */
int remote_session_put(
    struct remote_session *s, const char *path, const unsigned char *bytes, size_t size);

/* List a folder: bytes with one name a line. -ENOENT: the folder is not there. */
int remote_session_list(struct remote_session *s, const char *path, remote_take *take, void *ctx);

int remote_session_rename(struct remote_session *s, const char *from, const char *to);
int remote_session_remove(struct remote_session *s, const char *path);

#endif
