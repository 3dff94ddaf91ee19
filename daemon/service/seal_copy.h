/*
 * Checkpoints to their second place: one process at a time (yoke-carrier checkpoints) takes what is not
 * there yet. It is killed when it takes longer than a minute; one that cannot be killed, in a dead mount,
 * is left alone, and no other is begun until it is gone. What failed is tried again after a minute.
 */
#ifndef SEAL_COPY_H
#define SEAL_COPY_H

#include "inside.h"

struct seal_copy;

/* place: as in the configuration. NULL without memory. */
struct seal_copy *seal_copy_new(struct service *s, const char *place);

/* Begin, if something is to be copied and nothing stands in the way. newest: the last checkpoint. */
void seal_copy_pulse(struct seal_copy *c, uint64_t newest);

/* The last time: begin and wait, at most so many ms. Then, and in any case, nothing is begun any more. */
void seal_copy_end(struct seal_copy *c, uint64_t newest, uint64_t wait_ms);

/* {"place", "number", "error"?} */
json_t *seal_copy_json(struct seal_copy *c);

/* After the loop has run its closing handles. */
void seal_copy_free(struct seal_copy *c);

#endif
