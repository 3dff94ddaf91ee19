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

/* What the carrier that listens says, from the dispatch's calls. fd becomes the callee's. */
void listen_progress(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_progress *p);
void listen_content(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c, int fd);
void listen_outcome(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_outcome *out);

/* An order begins: a DC1 that the control said since a call asked for one is passed on. */
void listen_pass_on(struct service *s, struct service_machine *m, struct carry_order *order);

#endif
