/* A small file that a person named, or the standard input, in memory. */
#ifndef WHOLE_FILE_H
#define WHOLE_FILE_H

#include <stddef.h>

/*
 * Read a file of at most most bytes; "-" is the standard input. It never waits for a writer of a FIFO that is
 * not there. The caller frees *bytes, which ends with a NUL beyond n. 0, or -1 with errno, EFBIG when it is
 * larger.
 */
int whole_file(const char *path, size_t most, char **bytes, size_t *n);

#endif
