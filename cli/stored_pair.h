/* The programs of a pair out of the vault, read and checked. */
#ifndef STORED_PAIR_H
#define STORED_PAIR_H

#include <jansson.h>
#include "stored.h"
#include "yoke/pair.h"
#include "yoke/program.h"

struct stored_pair {
	struct stored text[YOKE_CHANNELS_MAX];
	struct program *program[YOKE_CHANNELS_MAX];
	size_t n;
	struct pair_report *report; /* of programs whose text is lent */
};

/*
 * Get the programs of a pair or machine of the API ({job, revision, parts}), as this profile reads them,
 * which must outlive *out. EXIT_DONE; else the exit status, and it was said. Free *out in either case.
 */
int stored_pair_get(const struct profile *profile, const json_t *pair, struct stored_pair *out);
void stored_pair_free(struct stored_pair *p);

#endif
