/* The line of revisions of a job, as the service tells it, walked program by program. */
#ifndef LINEAGE_H
#define LINEAGE_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

/* One program of a channel, different from the one before it. Everything belongs to the history. */
struct lineage_step {
	const char *revision, *channel, *sha256, *path, *by, *since;
	json_t *arrival; /* as the service told it */
};

/*
 * Call fn for each program of this channel that this revision (NULL: the last one) comes from, oldest
 * first, up to the last one of its own: each revision from the one before it, and one that was adopted
 * at a machine from the one that was carried there. The same program again is no step. fn returns 0 to
 * go on. 0, or what fn returned; -1 without memory.
 */
int lineage_walk(const json_t *line, const char *channel, const char *revision,
    int (*fn)(void *ctx, const struct lineage_step *step), void *ctx);

/* The channels that occur, in the order in which they came; at most n. Their number. */
size_t lineage_channels(const json_t *line, const char **channel, size_t n);

/* The line of this machine's folder, or, where that has not this revision (NULL: no line), of the
 * watched folder itself. NULL when neither has it. */
const json_t *lineage_of(const json_t *history, const char *machine, const char *revision);

#endif
