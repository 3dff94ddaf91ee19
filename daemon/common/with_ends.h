/* A program on its way to where it is a file, with the line ends that are wanted there, and summed. */
#ifndef WITH_ENDS_H
#define WITH_ENDS_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/event.h"
#include "yoke/line.h"

struct with_ends;

/* put takes what comes out, in pieces, and gives 0 or what with_ends_add is to give. The caller frees.
 * NULL without memory. Of the program it holds a few KiB at a time. */
struct with_ends *with_ends_new(
    enum line_ends ends, int (*put)(void *ctx, const void *bytes, size_t n), void *ctx);

/* The program's next bytes. 0; what put gave; -EFBIG when it has become longer than a program may be;
 * -EIO when it cannot be summed. */
int with_ends_add(struct with_ends *w, const void *bytes, size_t n);

/* Its sum and size as it came out. 0, -EIO. */
int with_ends_done(struct with_ends *w, struct sha *sha, uint64_t *size);

/* NULL is allowed. */
void with_ends_free(struct with_ends *w);

#endif
