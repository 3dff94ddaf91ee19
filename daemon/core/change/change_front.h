/* What stands in front of a block: a slash and a sequence number. */
#ifndef CHANGE_FRONT_H
#define CHANGE_FRONT_H

#include <stdbool.h>
#include <stdint.h>
#include "change_lines.h"

/* Take blanks, a slash with its level, and the blanks behind it off the front. */
void change_front_slash(struct change_span *s);

/* Take blanks, N and its number, UINT32_MAX for one that is too large, off the front. False when
 * there is none: then no more than blanks were taken. */
bool change_front_number(struct change_span *s, uint32_t *number);

#endif
