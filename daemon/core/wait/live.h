/* Which local variables matter from an instruction on. */
#ifndef WAIT_LIVE_H
#define WAIT_LIVE_H

#include "flow.h"

/*
 * By instruction, and one behind the last: the locals that the program at hand may still read
 * before it sets them, bit 1 to 33. What its callers read later is theirs. NULL where that is not
 * worth it: then all may matter. False without memory. The caller frees.
 */
bool live_new(const struct wait_flow *f, uint64_t **live);

/* The locals that the arguments of a call read. */
uint64_t live_arguments(const struct wait_flow *f, uint32_t call);

#endif
