/* A program of the vault in memory. */
#ifndef STORED_H
#define STORED_H

#include <stddef.h>

struct stored {
	const char *bytes; /* "" when it is empty */
	size_t n;
	void *map; /* private */
};

/* Get the program of this SHA-256, 64 hexadecimal digits, compared with its sum. EXIT_DONE and *out;
 * else the exit status, and it was said. */
int stored_get(const char *sha256, struct stored *out);
void stored_free(struct stored *s);

#endif
