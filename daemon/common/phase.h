/* What the phases of an order are called, for machines and for people. */
#ifndef PHASE_H
#define PHASE_H

#include "yoke/carry.h"

/* "wait"; phase is below CARRY_PHASE_COUNT. */
const char *phase_name(uint32_t phase);

/* What is going on, and what the operator is to do. Where the channel's line has a word (line may
 * be NULL), the stream says which channel it is for, and he need not select it for us. */
const char *phase_text(uint32_t phase, const struct line *line);

#endif
