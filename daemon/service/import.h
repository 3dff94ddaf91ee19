/* What came back from a machine on a stick, and what a person says of one. */
#ifndef IMPORT_H
#define IMPORT_H

#include "inside.h"

/* POST /v1/machines/{machine}/import */
void import_programs(void *service, const struct api_call *call, struct api_reply *reply);

/* POST /v1/machines/{machine}/loaded */
void import_said(void *service, const struct api_call *call, struct api_reply *reply);

#endif
