/* What is known of an order by the parent alone: which steps it granted, and what follows when no
 * outcome comes. */
#ifndef KNOWN_H
#define KNOWN_H

#include "yoke/carry.h"

struct known {
	bool touched[YOKE_CHANNELS_MAX]; /* a step that changes this channel was granted */
};

/* Remember that step was granted. */
void known_grant(struct known *k, const struct carry_order *order, const struct carry_step *step);

/*
 * The outcome of an order whose carrier left none: channels that no granted step could change are
 * as before, all others are unknown until something is read back, as are those of an interrupted
 * CARRY_INSPECT, which began unknown.
 */
void known_outcome(const struct known *k, const struct carry_order *order, enum carry_error error,
    const char *text, struct carry_outcome *out);

/* True when a carrier's message names only items that the order has. */
bool known_item(const struct carry_order *order, uint32_t item);

#endif
