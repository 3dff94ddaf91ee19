/* Verifying the trail on a thread of its own, so that a large vault does not hold up the loop. */
#ifndef VERIFY_H
#define VERIFY_H

#include "inside.h"

/* GET /v1/audit/verify: the answer is a stream of one line, when the verdict is known. */
void verify_answer(void *service, const struct api_call *call, struct api_reply *reply);

#endif
