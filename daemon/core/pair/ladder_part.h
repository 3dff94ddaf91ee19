/* What a channel does between two rungs, in a few short lines. */
#ifndef LADDER_PART_H
#define LADDER_PART_H

#include <stddef.h>
#include "yoke/timeline.h"

enum { LADDER_PART_LINES = 4, LADDER_PART_SIZE = 96 };

/*
 * Fill at most LADDER_PART_LINES lines: tools and operation, spindle, how long it works, how long
 * it then waits; plain text as it stands in the program, made visible. Returns how many.
 */
size_t ladder_part_lines(
    const struct timeline_part *part, char line[LADDER_PART_LINES][LADDER_PART_SIZE]);

/* A time for people: "0.8 s", "42 s", "3 min 05 s", "1 h 02 min". */
void ladder_part_time(double seconds, char *s, size_t size);

#endif
