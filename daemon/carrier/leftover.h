/*
 * The temporaries that an order leaves beside the programs of a share, and their names:
 *
 *   .yoke-ORDER.TRY-CHANNEL.part   the new program, complete only after it was compared
 *   .yoke-ORDER.TRY-CHANNEL.copy   the old program while it is copied, where it cannot have two names
 *   .yoke-ORDER-CHANNEL.old        the old program, kept until all new ones are in place
 *   .yoke-ORDER-CHANNEL.none       there was no old program
 *
 * Each try of an order writes under names of its own (TRY, 8 hexadecimal digits), so that what comes
 * late of a try that was cut short never gets into another. The .old or .none of every channel is on
 * the share, and complete, before the first program is replaced, so whoever finds a mixed machine can
 * put it back. On a server the names have no dot in front: many leave such names out when they list.
 */
#ifndef LEFTOVER_H
#define LEFTOVER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "yoke/limits.h"

enum leftover_kind { LEFTOVER_PART, LEFTOVER_COPY, LEFTOVER_OLD, LEFTOVER_NONE, LEFTOVER_COUNT };

enum { LEFTOVER_NAME = 1 + 4 + 1 + 20 + 1 + 8 + 1 + YOKE_NAME_MAX + 1 + 4 + 1 };

struct leftover {
	enum leftover_kind kind;
	uint64_t order;
	char name[LEFTOVER_NAME];
	size_t channel; /* where in the name it begins; it goes up to the last dot */
};

/* hide: "." or "". try: 0 for a name without one. */
void leftover_name(char name[LEFTOVER_NAME], const char *hide, uint64_t order, uint32_t try,
    const char *channel, enum leftover_kind kind);

/* Read a file's name, with or without a dot in front. False when it is none of ours. */
bool leftover_parse(const char *name, struct leftover *out);

/* True when it is one of this channel. */
bool leftover_of(const struct leftover *l, const char *channel);

#endif
