/*
 * Back-ups of the vault, one at a time, on a thread of their own: the loop goes on. What was written is told
 * by the event backed-up; what failed, by one that is refused.
 */
#ifndef SERVICE_BACKUP_H
#define SERVICE_BACKUP_H

#include "inside.h"

struct backup;

/* The answer of POST /v1/backup. */
void backup_answer(void *service, const struct api_call *call, struct api_reply *reply);

/* The last back-up that the trail tells of: {"time", "text"}; NULL: none, or no memory. */
json_t *backup_last(struct service *s);

/* The service ends: so does the back-up that is under way, with nothing left of it. */
void backup_end(struct service *s);

#endif
