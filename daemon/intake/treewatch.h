/* Folders watched by inotify: which folder does an event speak of? The only home of sys/inotify.h.
 */
#ifndef YOKE_INTAKE_TREEWATCH_H
#define YOKE_INTAKE_TREEWATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <uv.h>

enum treewatch_what {
	TREEWATCH_CREATED,  /* a name appeared */
	TREEWATCH_CLOSED,   /* a file was closed after writing */
	TREEWATCH_MOVED_IN, /* a name was moved here */
	TREEWATCH_GONE,     /* a name was moved away or removed */
	TREEWATCH_SELF,     /* the watched folder itself was moved, removed or unmounted */
	TREEWATCH_OVERFLOW, /* events were lost; dir and name are NULL */
	TREEWATCH_BROKEN,   /* reading events failed for good; dir and name are NULL */
};

/* dir is the folder's path below the root, name the entry (NULL for SELF). Both valid during the
 * call. */
typedef void treewatch_event(
    void *ctx, enum treewatch_what what, const char *dir, const char *name, bool is_folder);

struct treewatch;

/*
 * Opens a watch on loop and begins to report. limit: most folders, 0 for no limit of our own.
 * Returns 0 or a negative errno (EMFILE: the user's inotify instances are used up). gone(ctx) is
 * called once, when the loop has let the watch go after treewatch_close.
 */
int treewatch_open(struct treewatch **w, uv_loop_t *loop, uint32_t limit, treewatch_event *event,
    void (*gone)(void *ctx), void *ctx);

/* Ends it: no event comes after this. */
void treewatch_close(struct treewatch *w);

/* Stops and goes on reading events; the kernel queues them meanwhile. */
void treewatch_hold(struct treewatch *w, bool hold);

/*
 * Watches the open folder dirfd, known as path. Watching a folder again renames it. Returns 0 or a
 * negative errno; -ENOSPC when the limit of watches is reached.
 */
int treewatch_add(struct treewatch *w, int dirfd, const char *path);

/* Forgets the folder path and all below it. */
void treewatch_forget(struct treewatch *w, const char *path);

/* Number of folders watched. */
size_t treewatch_count(const struct treewatch *w);

#endif
