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

/*
 * A machine's last good pair counts for the channels that it was proven with. Where the configuration
 * has others now, EVENT_UNPROVEN is recorded: the mark ends by that event and by nothing else. Call
 * behind configured_record. 0, -1 not recorded.
 */
int configured_channels(struct service *s);

#endif
