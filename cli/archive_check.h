/* Checking an archive (archive.h) without any service. */
#ifndef ARCHIVE_CHECK_H
#define ARCHIVE_CHECK_H

#include <stdbool.h>
#include "trail_keys.h"

/* What is wanted of an archive beside the word that it is good, which stands on stderr then. */
struct archive_check_ask {
	bool entries;        /* its entries, as the API has them, one JSON object a line, to stdout */
	const char *program; /* SHA-256 of a program in it; NULL */
	const char *out;     /* into this new file; NULL: to stdout */
};

/*
 * Read the file and check everything that archive.h says of it, with these keys. Says "good" and how much is
 * in it, or "NOT GOOD" and the first thing that does not fit. An exit status.
 */
int archive_check(
    const char *file, const struct trail_keys *keys, const struct archive_check_ask *ask);

/* `yoke audit check-archive`: the same with what a person wrote behind --key. */
int archive_check_key(const char *file, const char *key, const struct archive_check_ask *ask);

#endif
