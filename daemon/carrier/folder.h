/*
 * One channel's folder on a share, whether the share is mounted here (mount.h) or reached through a
 * server (remote.h). What keeps a pair together (share.h) asks for nothing else, so both kinds keep
 * it together in the same way.
 *
 * Calls give 0 or a negative errno; FOLDER_SAID in place of an errno: the order's said holds error and
 * sentence. A rename or removal that failed may have been done all the same, as when the answer was
 * lost on its way, unless refused is set: then the other side has said no, and nothing was done.
 */
#ifndef FOLDER_H
#define FOLDER_H

#include <limits.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <time.h>
#include "fault.h"

enum { FOLDER_SAID = INT_MIN, FOLDER_LIKE = 2 };

/* What a name holds. */
struct folder_seen {
	bool there;
	uint64_t size;
	struct sha sha;
	unsigned mode, uid, gid; /* permission bits and owner, where the share has them */
	int fd; /* sealed memory with the bytes, or -1: belongs to the holder */
	const unsigned char *bytes; /* its mapping, or other memory that outlives this; NULL: none */
};

/* When a program was written last, as the share tells it. */
struct folder_stamp {
	bool there;
	uint64_t size, inode;
	struct timespec written, changed;
};

/* Called within long work with the bytes done; anything but 0 ends the work with that (negative)
 * value. */
struct folder_tick {
	int (*call)(void *ctx, uint64_t done);
	void *ctx;
};

/* What the folders of one order share. */
struct folder_order {
	struct folder_tick tick;
	bool looks;        /* it writes nothing: no folder is locked, and nobody waits for it */
	struct fault said; /* of the last call that gave FOLDER_SAID */
	bool refused;      /* the last rename or removal was not done */
};

struct folder;

struct folder_ops {
	/* It is still the share that was opened, with its marker: 0, or -1 with OFFLINE or MARKER, or
	 * why it cannot be told. */
	int (*check)(struct folder *f, struct fault *fault);

	/* Both are the same folder. Only for two of the same kind, as what follows. */
	bool (*same)(const struct folder *a, const struct folder *b);

	/* What check says of one it says of the other. */
	bool (*one_check)(const struct folder *a, const struct folder *b);

	/*
	 * Read a file and its sum; keep: also its bytes, in sealed memory. guess: what it may hold, with
	 * bytes, or NULL: all of the file is read in either case, and that which equals the guess need
	 * not be summed. A name that is not there is no error. -ELOOP, -EISDIR, -ENXIO: no regular
	 * file; -EFBIG: larger than a program may be. On an error nothing is held. folder_drop() frees.
	 */
	int (*read)(struct folder *f, const char *name, bool keep, const struct folder_seen *guess,
	    struct folder_seen *out);

	/*
	 * Write a file under a name that is not there. like: whose owner and mode it gets where the
	 * share has them, NULL for the defaults. It is on its way then, and safe only after prove. On an
	 * error something may lie under the name.
	 */
	int (*put)(struct folder *f, const char *name, const struct folder_seen *what,
	    const struct folder_seen *like);

	/* See to it that what was put under the name survives a power cut, as far as the share can say
	 * that, read it back and compare. -EBADMSG: it differs. */
	int (*prove)(struct folder *f, const char *name, const struct folder_seen *what);

	/* Give a file a second name without copying; -EOPNOTSUPP: not here. */
	int (*twin)(struct folder *f, const char *name, const char *twin);

	/* Rename; whether a name that is there is replaced is the share's choice. */
	int (*rename)(struct folder *f, const char *from, const char *to);

	/* Remove; a name that is not there is no error. */
	int (*remove)(struct folder *f, const char *name);

	/* Call each for every name; not 0 ends it with that value. Hidden names may be left out. A share
	 * on a server may tell what it told less than a second ago, unless this side has changed a name
	 * since. */
	int (*list)(struct folder *f, int (*each)(void *ctx, const char *name), void *ctx);

	/* Names that were changed survive a power cut, as far as the share can say that. */
	int (*sync)(struct folder *f);

	/* The share's root has a file of this name: 1, 0, or a negative value; FOLDER_LIKE: one whose name
	 * differs in the letters' case alone. */
	int (*root_has)(struct folder *f, const char *name);

	/* Bytes that can still be written; NULL where no share of this kind tells it. */
	int (*room)(struct folder *f, uint64_t *bytes);

	/* When a file was written; NULL where no share of this kind tells it well enough. */
	int (*stamp)(struct folder *f, const char *name, struct folder_stamp *out);

	void (*close)(struct folder *f);
};

/* The beginning of what a kind of share has for each folder. */
struct folder {
	const struct folder_ops *ops;
	const struct line *line; /* outlives it */
	uint32_t item;           /* for faults */
	const char *hide;        /* in front of our temporaries' names: "." or "" */
	struct folder_order *order;
};

/*
 * Open item's folder by the kind of its line; nothing is ever made. others: n folders of the same
 * order that are open already. NULL with the fault set: OFFLINE, MARKER, NAME, BUSY, or what a server
 * says. order outlives it. folder_close() frees; NULL is allowed.
 */
struct folder *folder_open(const struct line *line, uint32_t item, struct folder_order *order,
    struct folder *const *others, uint32_t n, struct fault *fault);

/* Call the order's tick; what it gives. */
int folder_tick(const struct folder *f, uint64_t done);

void folder_close(struct folder *f);

/* Put and prove. */
int folder_write(struct folder *f, const char *name, const struct folder_seen *what,
    const struct folder_seen *like);

/* Free what was kept of a file, and the mapping; only for what a folder has filled. */
void folder_drop(struct folder_seen *seen);

/* Milliseconds for the whole order. */
uint32_t folder_total(const struct line *line);

/* True when both hold the same bytes, or both are not there. */
bool folder_equal(const struct folder_seen *a, const struct folder_seen *b);

#endif
