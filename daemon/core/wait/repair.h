/* The likeliest repair of two runs that do not meet. */
#ifndef WAIT_REPAIR_H
#define WAIT_REPAIR_H

#include "walk.h"

/*
 * Channels a and b stopped at different places; before: the code of their last meeting, 0 none.
 * Fills repair, channels, places and codes of out. The walks are not moved. False without memory.
 */
bool wait_repair_find(struct wait_result *out, int a, const struct wait_walk *wa, int b,
    const struct wait_walk *wb, uint32_t before);

#endif
