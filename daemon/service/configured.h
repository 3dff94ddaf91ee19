/* The configuration in force, as an event when it differs from the last. */
#ifndef CONFIGURED_H
#define CONFIGURED_H

#include "inside.h"

/*
 * Record EVENT_CONFIGURED when the configuration's files, or a weight that a profile changes, are
 * not as the last such event says. 0; -1 when it had to be recorded and was not, or could not be
 * read.
 */
int configured_record(struct service *s);

#endif
