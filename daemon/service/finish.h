/* The end of an order: what its outcome means for the machine, as events. */
#ifndef FINISH_H
#define FINISH_H

#include "inside.h"

/*
 * Record what came of an order and end its stream. m->carrying is the order. 0, or -1 when it could
 * not be recorded: then nothing of it was.
 */
int finish_order(struct service *s, struct service_machine *m, const struct vault_order *o,
    const struct carry_outcome *out);

/* The error's name, and whether it may pass by itself. */
const char *finish_error_name(enum carry_error error);
bool finish_error_passes(enum carry_error error);

#endif
