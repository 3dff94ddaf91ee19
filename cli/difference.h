/* What differs between two programs of the vault, in a sentence. */
#ifndef DIFFERENCE_H
#define DIFFERENCE_H

#include <jansson.h>
#include "yoke/profile.h"
#include "yoke/text.h"

/*
 * Compare two programs by their SHA-256. A new reference: {"sameness": string, "counts": {KIND: n},
 * "heaviest": change or null}, change as in change_json.h. NULL: *status is the exit status to end
 * with, and it was said.
 */
json_t *difference(
    const struct profile *profile, const char *old_sha, const char *new_sha, int *status);

/* Append "2 changes (1 wait code, 1 feed), the heaviest: ...", or "the same", by what difference made. */
void difference_put(struct text *t, const json_t *difference);

#endif
