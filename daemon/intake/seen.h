/* The memory of names: a table by path below the root, and a queue of those to be looked at. */
#ifndef YOKE_INTAKE_SEEN_H
#define YOKE_INTAKE_SEEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "candidate.h"

struct seen_file {
	struct seen_file *chain;       /* next in the same bucket */
	struct seen_file *prev, *next; /* in the queue, if queued */
	struct candidate candidate;
	size_t due_at;  /* place among the deadlines plus one, 0 for none (due.c) */
	uint32_t sweep; /* the scan that met it last */
	uint32_t hash;
	enum candidate_cue cue;    /* why it is queued */
	enum intake_reason reason; /* what will be told with its arrival */
	uint8_t refused;           /* enum intake_refusal plus one, 0 for none */
	bool ignored;
	bool queued;
	char path[];
};

struct seen {
	struct seen_file **buckets;
	size_t bucket_count, count;
	uint32_t seed;
	struct seen_file *first, *last; /* the queue */
};

/* Makes an empty table. Returns 0 or -ENOMEM. End it with seen_end, which frees every file. */
int seen_init(struct seen *s);
void seen_end(struct seen *s);

/* The file of that path, or NULL. */
struct seen_file *seen_find(const struct seen *s, const char *path);

/* The same, made when it is new. NULL without memory. The table owns it. */
struct seen_file *seen_get(struct seen *s, const char *path);

/* Takes f out of queue and table and frees it. It must have no deadline. */
void seen_drop(struct seen *s, struct seen_file *f);

/* Appends f to the queue unless it is there; the newest cue counts. */
void seen_queue(struct seen *s, struct seen_file *f, enum candidate_cue cue);

/* Takes the first of the queue, NULL when empty. */
struct seen_file *seen_next(struct seen *s);

/* Calls each(ctx, f) for every file; it may drop f. */
void seen_each(struct seen *s, void (*each)(void *ctx, struct seen_file *f), void *ctx);

#endif
