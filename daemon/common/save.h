/* Bytes to a descriptor, all of them. */
#ifndef SAVE_H
#define SAVE_H

#include <stddef.h>

/* Write n bytes, however many calls that takes. 0, or a negative errno: some of them may be
 * written. */
int save_all(int fd, const void *bytes, size_t n);

#endif
