/* Scratch folders and files for tests. Every function fails the test when it cannot do its part. */
#ifndef SCRATCH_H
#define SCRATCH_H

#include <stddef.h>

/* cmocka setup and teardown: *state is the path of a new empty folder, removed with all in it at
 * the end. */
int scratch_setup(void **state);
int scratch_teardown(void **state);

/* The path of name below the folder; the result is valid until the fourth call after. */
const char *scratch_path(void **state, const char *name);

/* Write n bytes, or a string, to name below the folder and return its path as above. */
const char *scratch_bytes(void **state, const char *name, const void *bytes, size_t n);
const char *scratch_file(void **state, const char *name, const char *content);

#endif
