/* Opening the file in which a secret lies. */
#ifndef SECRET_OPEN_H
#define SECRET_OPEN_H

#include <stddef.h>
#include "yoke/limits.h"

/*
 * Open what a place (secret_place.h) names; what: the secret in words, for why. Its path is put into path
 * as far as it is known. Refused: links, what is no file, and of file:/PATH what is not ours alone (owner,
 * mode). A descriptor; -ENOENT when there is no such file; another negative errno, always with one line
 * in why (size n).
 */
int secret_open(
    const char *place, const char *what, char path[YOKE_PATH_MAX + 1], char *why, size_t n);

#endif
