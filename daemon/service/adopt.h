/* What was changed at a machine becomes a revision of its job. */
#ifndef ADOPT_H
#define ADOPT_H

#include "inside.h"

void adopt_pair(void *service, const struct api_call *call, struct api_reply *reply);

/*
 * Whether what the machine holds may be marked as proven, as far as adopting goes: true unless it was
 * adopted and is not, byte for byte, a released pair: then why says what to do.
 */
bool adopt_stands(struct service *s, const struct vault_machine *held, char *why, size_t n);

#endif
