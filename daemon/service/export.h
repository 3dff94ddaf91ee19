/* A pair for a machine on a stick: the list of what is to be written, and its record. */
#ifndef EXPORT_H
#define EXPORT_H

#include "inside.h"

/* POST /v1/machines/{machine}/export */
void export_pair(void *service, const struct api_call *call, struct api_reply *reply);

#endif
