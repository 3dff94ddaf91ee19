/*
 * What a machine punched unasked and the vault could not take, such as on a full disk: held in memory
 * and tried again, since the control has let go of it and nobody may know that it is to be punched
 * again. When the service ends first, it is lost, and the log says so.
 */
#ifndef LATER_H
#define LATER_H

#include "inside.h"

/* Hold a text; fd becomes the callee's. What goes beyond its limits is dropped, and the log says so. */
void later_add(struct service *s, struct service_machine *m, const char *channel,
    const struct carry_content *c, int fd);

/* Try again, when it is time. */
void later_try(struct service *s, struct service_machine *m);

/* The service ends: try once more, and say what is lost. */
void later_end(struct service *s, struct service_machine *m);

#endif
