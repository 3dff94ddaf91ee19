/* The bytes of one file as they come in: summed, counted, and kept in sealed memory when wanted. */
#ifndef TAKING_H
#define TAKING_H

#include "folder.h"

struct taking {
	struct sha256 *sum;
	uint64_t size;
	int fd; /* -1: not kept */
	const struct folder_seen *guess; /* what came so far is its beginning, and not summed; or NULL */
};

/*
 * Begin. guess: what is expected to come, with its bytes, outliving t; NULL for nothing. As long as
 * that is what comes, bytes are compared, which takes a fraction of the time of summing. 0, or a
 * negative errno; taking_end() follows in either case.
 */
int taking_begin(struct taking *t, bool keep, const struct folder_seen *guess);

/* The next bytes. 0, or a negative errno; -EFBIG: more than a program may have. */
int taking_add(struct taking *t, const void *bytes, size_t n);

/*
 * The end: rc 0, all has come, fills *out, to which the memory then belongs; any other rc frees what
 * there is. What is returned is rc, or why the end was not possible. On an error out->there is false
 * and out->fd is -1.
 */
int taking_end(struct taking *t, int rc, struct folder_seen *out);

#endif
