/*
 * The block that gives the blocks behind it to a channel, in a file that holds several channels:
 * plain text with {channel} in it once, such as "$ {channel}" or "(CHANNEL {channel})".
 */
#ifndef SEPARATOR_H
#define SEPARATOR_H

#include <stdbool.h>
#include <stddef.h>
#include "yoke/profile.h"

enum { SEPARATOR_MAX = 63 }; /* bytes of a pattern */

/* True when the pattern can be used; otherwise one line that says what is wrong and what is allowed
 * is added to why. */
bool separator_check(const char *pattern, struct text *why);

enum { SEPARATOR_NO = -1, SEPARATOR_UNKNOWN = -2 };

/*
 * Match a whole line (n bytes, without its end), in any case of letters. Blanks count for nothing
 * at either end and beside {channel}; between words some stand for some others. A comment may
 * follow. The index of the channel, by name, alias, or number from 1; SEPARATOR_NO: another line;
 * SEPARATOR_UNKNOWN: the pattern's own text around something that is no channel of the profile,
 * which is then *name, *name_n bytes within line.
 */
int separator_match(
    const struct profile *p, const char *line, size_t n, const char **name, size_t *name_n);

#endif
