/* The Unix socket that the API listens on. */
#ifndef LISTEN_H
#define LISTEN_H

#include <stddef.h>

/*
 * A listening, non-blocking descriptor at path with this mode. A socket that nobody listens on is
 * replaced; one that is in use, or another kind of file, is refused. -1 with one line in why.
 */
int listen_open(const char *path, unsigned mode, char *why, size_t n);

#endif
