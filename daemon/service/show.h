/* The answers to questions: what the service knows, as JSON. The shapes stand in DEVELOPERS.md. */
#ifndef SHOW_H
#define SHOW_H

#include "inside.h"

void show_status(void *service, const struct api_call *call, struct api_reply *reply);
void show_machines(void *service, const struct api_call *call, struct api_reply *reply);
void show_machine(void *service, const struct api_call *call, struct api_reply *reply);
void show_jobs(void *service, const struct api_call *call, struct api_reply *reply);
void show_job(void *service, const struct api_call *call, struct api_reply *reply);
void show_program(void *service, const struct api_call *call, struct api_reply *reply);
void show_orders(void *service, const struct api_call *call, struct api_reply *reply);
void show_order(void *service, const struct api_call *call, struct api_reply *reply);
void show_order_follow(void *service, const struct api_call *call, struct api_reply *reply);
void show_audit(void *service, const struct api_call *call, struct api_reply *reply);
void show_follow(void *service, const struct api_call *call, struct api_reply *reply);

#endif
