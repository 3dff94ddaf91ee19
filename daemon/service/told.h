/* What the trail tells already of files that are no programs, so that a start does not repeat it.
 */
#ifndef TOLD_H
#define TOLD_H

#include <stdbool.h>
#include "vault.h"

struct told;

/* The texts of all turned-away events. NULL when they cannot be read or memory ran out: then
 * nothing counts as told, and it is told twice rather than never. */
struct told *told_read(struct vault *v);

/* Whether there is such an event with this text. False for NULL. */
bool told_before(const struct told *t, const char *text);

/* NULL does nothing. */
void told_free(struct told *t);

#endif
