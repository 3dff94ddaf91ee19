/* Which block of an older program a block of a newer one is. */
#ifndef CHANGE_MATCH_H
#define CHANGE_MATCH_H

#include <stddef.h>
#include <stdint.h>
#include "change_side.h"

#define CHANGE_MATCH_NONE UINT32_MAX

/* For one block of the newer program. */
struct change_match {
	uint32_t same;   /* the block of the older one that it is, also moved or numbered anew; or NONE */
	uint32_t before; /* else the one that it took the place of; or NONE */
};

/*
 * Fill match, one for each block of b. Sets the marks of both sides. 0, or -1 without memory.
 */
int change_match(const struct profile *profile, struct change_side *a, struct change_side *b,
    struct change_match *match);

#endif
