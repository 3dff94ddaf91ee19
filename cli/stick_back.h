/* A file of a stick read once more, from the stick itself. */
#ifndef STICK_BACK_H
#define STICK_BACK_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/limits.h"

/*
 * The SHA-256 of a file that was flushed. *past: it came from the device and not from this computer's
 * cache, by direct reading, or because nothing of the file was in the cache when it was read. 0, or a
 * negative errno.
 */
int stick_back(int dir, const char *name, uint8_t sum[YOKE_SHA_SIZE], bool *past);

#endif
