/* What somebody who brings a pair back to a machine has to know before. */
#ifndef RESTORE_SHOW_H
#define RESTORE_SHOW_H

#include <jansson.h>
#include "yoke/profile.h"

/*
 * Write to stdout: what the machine is believed to hold and what is to be said about it; the pair; what
 * differs in each channel by meaning; which tools and work offsets the pair needs; the cautions.
 * EXIT_DONE; else the exit status, and it was said.
 */
int restore_show(const json_t *machine, const json_t *pair, const struct profile *profile);

#endif
