/* The root of the watched tree: is it there, and is it the one it was? */
#ifndef YOKE_INTAKE_TREEROOT_H
#define YOKE_INTAKE_TREEROOT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum treeroot_verdict {
	TREEROOT_SAME,         /* the folder it was */
	TREEROOT_NEW,          /* the first time, or another folder that may stand for it */
	TREEROOT_MISSING,      /* nothing there, or no folder, or it cannot be entered */
	TREEROOT_OTHER_DEVICE, /* a folder on another device, and no marker to vouch for it */
	TREEROOT_SHORT,        /* we are short of descriptors or memory: ask again later */
	TREEROOT_NO_MARKER,    /* a folder without its marker: an empty mount point, say */
};

struct treeroot_facts {
	bool known; /* dev_was and ino_was are from an earlier look */
	uint64_t dev_was, ino_was;
	bool there;
	uint64_t dev, ino;
	bool wants_marker, has_marker;
};

/* Pure. A marker, where one is set, outranks the device id, which changes when a share is mounted
 * anew. */
enum treeroot_verdict treeroot_judge(const struct treeroot_facts *facts);

struct treeroot {
	const char *path;   /* not owned */
	const char *marker; /* not owned, or NULL */
	bool known;
	uint64_t dev, ino;
};

/*
 * Opens the root (O_PATH) and judges it. With SAME or NEW *fd is open and the caller closes it, and
 * root remembers the folder. Otherwise *fd is -1
 * and text (size bytes) says what is wrong and what
 * to do.
 */
enum treeroot_verdict treeroot_enter(struct treeroot *root, int *fd, char *text, size_t size);

#endif
