/* Comma-separated values, RFC 4180. */
#ifndef CSV_H
#define CSV_H

#include <stdbool.h>
#include "yoke/text.h"

/*
 * Append one field, quoted where RFC 4180 section 2 demands it; first: of its record, so that no
 * comma goes before it. Control characters and what is not UTF-8 are made visible: the RFC's
 * TEXTDATA has no room for them. A field that a spreadsheet would take for a formula (it begins
 * with = + - or @) gets an apostrophe before it.
 */
void csv_field(struct text *t, const char *s, bool first);

/* End the record: CR LF. */
void csv_end(struct text *t);

#endif
