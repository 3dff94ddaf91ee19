/* Days and moments as a person writes them, local time. */
#ifndef MOMENT_H
#define MOMENT_H

#include <stdbool.h>

/* The forms, for messages. */
#define MOMENT_FORMS "YYYY, YYYY-MM-DD or YYYY-MM-DDTHH:MM[:SS], local time"

/* Seconds since 1970 of a year's or day's beginning, or of its end when end is set; or of a moment.
 * 0, or -1: it is none. */
int moment_read(const char *s, bool end, long long *out);

#endif
