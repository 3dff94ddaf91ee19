/*
 * Sealing the trail: a checkpoint is signed at start and stop, after checkpoint_events entries, and
 * checkpoint_s seconds after the first entry that none has sealed; looked at once a second.
 *
 * The service never ends because of its key. When the key cannot be used (missing, not ours alone, not the
 * one that the trail names), or the trail is not what was sealed before, that is told on the error output,
 * in `yoke status`, and as an event; it is tried again every two seconds, and work goes on.
 */
#ifndef SEAL_H
#define SEAL_H

#include "inside.h"

struct seal;

/* Find the key, or make the first one, and seal the trail. NULL without memory; anything else that fails
 * is no failure of the start. */
struct seal *seal_new(struct service *s);

/* Look whether it is time. Now, whether it is or not: for a proof; true when everything is sealed. */
void seal_pulse(struct seal *l);
bool seal_now(struct seal *l);

/* A new key: it, and unless lost also the one before it, signs the trail with the event that names it. 0;
 * -1 with why. who and from are the event's. */
int seal_rotate(struct seal *l, bool lost, const char *who, const char *from, char *why, size_t n);

/* What there is to tell: {"key", "sealed", "number", "time", "error"?, "copy": {"place", "number", "error"?}?} */
json_t *seal_json(struct seal *l);

/* The end: after the last event. */
void seal_free(struct seal *l);

#endif
