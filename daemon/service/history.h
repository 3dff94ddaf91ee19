/* The history of a job: its revisions in their order, with who brought what when. */
#ifndef HISTORY_H
#define HISTORY_H

#include "inside.h"

void history_show(void *service, const struct api_call *call, struct api_reply *reply);

#endif
