/* The answers to requests that change something. Every refusal of one is an event too. */
#ifndef ASK_H
#define ASK_H

#include "inside.h"

void ask_send(void *service, const struct api_call *call, struct api_reply *reply);
void ask_restore(void *service, const struct api_call *call, struct api_reply *reply);
void ask_drip(void *service, const struct api_call *call, struct api_reply *reply);
void ask_fetch(void *service, const struct api_call *call, struct api_reply *reply);
void ask_prove(void *service, const struct api_call *call, struct api_reply *reply);
void ask_doubt(void *service, const struct api_call *call, struct api_reply *reply);
void ask_lock(void *service, const struct api_call *call, struct api_reply *reply);
void ask_unlock(void *service, const struct api_call *call, struct api_reply *reply);
void ask_cancel(void *service, const struct api_call *call, struct api_reply *reply);
void ask_next(void *service, const struct api_call *call, struct api_reply *reply);

#endif
