/* Requests about a pair that stands: a second person accepts it, somebody accepts it despite a rule, or
 * withdraws it. */
#ifndef ACCEPT_H
#define ACCEPT_H

#include "inside.h"

void accept_pair(void *service, const struct api_call *call, struct api_reply *reply);
void accept_withdraw(void *service, const struct api_call *call, struct api_reply *reply);

#endif
