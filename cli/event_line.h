/* An event of the API in words. */
#ifndef EVENT_LINE_H
#define EVENT_LINE_H

#include <jansson.h>
#include <stdbool.h>
#include "yoke/text.h"

/* One line with its end: number, local time, kind, machine, pair, order, what, who. */
void event_line(struct text *t, const json_t *event);

/*
 * What happened to each channel: "upper 0123456789ab -> fedcba987654, lower none -> ...": the sums
 * before and after, whole or their first twelve digits and
 * "as before" when they are equal; without a line end.
 */
void event_line_parts(struct text *t, const json_t *event, bool whole);

#endif
