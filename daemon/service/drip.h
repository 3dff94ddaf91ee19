/*
 * Drip feed: an order whose program the control executes while it reads it. It changes nothing that
 * the machine holds, and once it began it is never begun again by itself: where to go on is decided
 * by people at the machine.
 */
#ifndef DRIP_H
#define DRIP_H

#include "inside.h"

/* True for such an order; and for one whose first character was allowed to go. */
bool drip_is(const struct vault_order *o);
bool drip_begun(const struct vault_order *o);

/* Whether the channel (its index) has a line, and a setting, for it. 0, or -1 with why. */
int drip_line(const struct service_machine *m, uint32_t channel, char *why, size_t n);

/*
 * Whether the machine's control can execute this program of the channel while it reads it. 1 and
 * *meets, whether it holds wait codes; 0 with why; -1 when it could not be read, why says so.
 */
int drip_may(struct service *s, const struct service_machine *m, const char *channel,
    const struct sha *sha, bool *meets, char *why, size_t n);

/* The caution that goes with it, appended to out. pair: what it is a part of; held: the machine. */
void drip_caution(const struct vault_pair *pair, const char *channel, bool meets,
    const struct vault_machine *held, struct text *out);

/* What it means that it was cut short once it began, as a sentence without its end: what is known of
 * where the control stands, and what is not done by itself. channel: its name. */
void drip_stopped(const char *channel, char *text, size_t n);

/* What goes on, for whoever locks the machine or cancels the order meanwhile. "" when it is not
 * under way. */
void drip_goes_on(const struct service_machine *m, char *text, size_t n);
extern const char drip_cancelling[];

#endif
