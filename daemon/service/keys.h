/* The API's verbs about keys, checkpoints, proofs and the bytes of the trail. */
#ifndef KEYS_H
#define KEYS_H

#include "inside.h"

/* The proof of one event, as text (proof.h). What no checkpoint has sealed yet is sealed first. */
void keys_prove(void *service, const struct api_call *call, struct api_reply *reply);

/* The checkpoints after ?after=NUMBER, each a signed note with an empty line behind it, at most LIMIT. */
void keys_checkpoints(void *service, const struct api_call *call, struct api_reply *reply);

/* The entries after ?after=SEQ as the bytes that are hashed (leaf.h), each in base64 on a line, as many as
 * make one answer; none behind the last. */
void keys_entries(void *service, const struct api_call *call, struct api_reply *reply);

/* The public keys, the oldest first, and what is sealed. */
void keys_list(void *service, const struct api_call *call, struct api_reply *reply);

/* A new key. Asked by the service's own user or root alone: no group can be given this. */
void keys_rotate(void *service, const struct api_call *call, struct api_reply *reply);

#endif
