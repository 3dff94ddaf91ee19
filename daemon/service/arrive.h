/* From "this file has arrived" to "its bytes are in the vault and its pair was judged". */
#ifndef ARRIVE_H
#define ARRIVE_H

#include "inside.h"

struct arrive;

/* NULL without memory. */
struct arrive *arrive_new(struct service *s);

/* The intake's calls, with the arrive as their ctx. */
extern const struct intake_calls arrive_calls;

/* Files taken over and not yet recorded. */
size_t arrive_waiting(const struct arrive *a);

/* Drop what is under way: it stays in the folder and is found by the scan of the next start. */
void arrive_stop(struct arrive *a);
void arrive_free(struct arrive *a);

#endif
