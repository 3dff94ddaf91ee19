/* The run of an outcome, walked again from the beginning, for people to see. */
#ifndef WAIT_SHOW_H
#define WAIT_SHOW_H

#include "product_search.h"

/* Fills runs, rungs, meetings, left and rounds of out; the channels then stand where the run ends.
 * The nodes of the search are those at hand. False without memory. */
bool show_run(
    struct product *p, const uint32_t *on, const struct outcome *o, struct wait_result *out);

#endif
