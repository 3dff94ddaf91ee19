/* What a channel does between two rungs, in a few short lines. */
#ifndef LADDER_PART_H
#define LADDER_PART_H

#include <stdbool.h>
#include <stddef.h>
#include "yoke/timeline.h"

enum { LADDER_PART_LINES = 5, LADDER_PART_SIZE = 96 };

/* Seconds: shorter times are not worth a line, no estimate is that exact. */
#define LADDER_PART_LEAST 0.05

/*
 * Fill at most LADDER_PART_LINES lines: tools and operation, spindle, how long it works, how long
 * it then waits, or what it costs the cycle; plain text as it stands in the program, made visible.
 * Returns how many.
 */
size_t ladder_part_lines(
    const struct timeline_part *part, size_t room, char line[LADDER_PART_LINES][LADDER_PART_SIZE]);

/* True when it is worth saying that this part makes the cycle as long as it is. */
bool ladder_part_critical(const struct timeline_part *part);

/* True when something is not in these times. */
bool ladder_part_lacks(const struct timeline_work *w);

/* A time for people: "0.8 s", "42 s", "3 min 05 s", "1 h 02 min". */
void ladder_part_time(double seconds, char *s, size_t size);

#endif
