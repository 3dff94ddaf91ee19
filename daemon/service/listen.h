/*
 * Listening between orders: one carrier per machine whose [call] section asks for it, for as long as
 * the machine has no order to begin. What it hears is kept, and a call is answered.
 */
#ifndef LISTEN_H
#define LISTEN_H

#include "inside.h"

/* The machine has nothing to do: listen, if that is wanted and was not tried just now. */
void listen_begin(struct service *s, struct service_machine *m);

/* An order is to begin: the carrier that listens is told to end. Its outcome kicks the orders. */
void listen_end(struct service *s, struct service_machine *m);

/* What the machine is known to hold is another, or in doubt: a carrier that looks at its share ends, and
 * the next one compares with that, if with anything. */
void listen_compare_anew(struct service *s, struct service_machine *m);

/* What the carrier that listens says, from the dispatch's calls. fd becomes the callee's. */
void listen_progress(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_progress *p);
void listen_content(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c, int fd);
void listen_outcome(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_outcome *out);

/*
 * Take a text that came over a channel's line into the vault, and follow it where it is a call. late: as
 * called() says. False when that could not be recorded: nothing was done, and it is to be tried again.
 */
bool listen_take(struct service *s, struct service_machine *m, const char *channel,
    const struct carry_content *c, int fd, bool late);

/*
 * An order begins: a DC1 that the control said since a call is passed on to the order that this call
 * made, on the line that it came over, and to no other: what the operator waits for is that one.
 */
void listen_pass_on(struct service *s, struct service_machine *m, struct carry_order *order);

#endif
