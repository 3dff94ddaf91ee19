/*
 * The temporaries that an order leaves beside the programs of a share, and their names:
 *
 *   .yoke-ORDER-CHANNEL.part   the new program, complete only after it was compared
 *   .yoke-ORDER-CHANNEL.old    the old program, kept until both new ones are in place
 *   .yoke-ORDER-CHANNEL.none   empty: there was no old program
 *
 * The .old or .none of every channel is on the disk before the first program is replaced, so
 * whoever finds a mixed machine can put it back.
 */
#ifndef LEFTOVER_H
#define LEFTOVER_H

#include <stdbool.h>
#include <stdint.h>
#include "yoke/limits.h"

enum leftover { LEFTOVER_PART, LEFTOVER_OLD, LEFTOVER_NONE, LEFTOVER_COUNT };

enum { LEFTOVER_NAME = 1 + 4 + 1 + 20 + 1 + YOKE_NAME_MAX + 1 + 4 + 1 };

void leftover_name(
    char name[LEFTOVER_NAME], uint64_t order, const char *channel, enum leftover kind);

/* Which kind a file's name is and of which order; LEFTOVER_COUNT when it is none of ours. */
enum leftover leftover_parse(const char *name, uint64_t *order);

/*
 * Left-overs in folder that may go, judged by want: their number, or a negative errno. remove:
 * remove them while looking. tick is called between names; not 0 ends the look with that value.
 */
int leftover_sweep(int folder, bool (*want)(void *ctx, enum leftover kind, uint64_t order),
    void *ctx, bool remove, int (*tick)(void *tick_ctx), void *tick_ctx);

#endif
