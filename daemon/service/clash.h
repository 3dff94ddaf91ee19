/*
 * The name on the machine holds a program of another job: found when the old program is read, before
 * anything is written.
 */
#ifndef CLASH_H
#define CLASH_H

#include "inside.h"

/*
 * The carrier of m's order has read what item's name holds, and the vault has it: when its header names
 * another job than the order, m->clash says so, and no step of the order is granted. Where the
 * machine's profile does not refuse number-clash, two jobs may have one number, and nothing is said;
 * nor is it where the name has the job in it, or of a program without a readable job.
 */
void clash_look(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c);

#endif
