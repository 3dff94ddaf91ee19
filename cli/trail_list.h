/* Checkpoints in what was kept in a second place. */
#ifndef TRAIL_LIST_H
#define TRAIL_LIST_H

#include "checkpoint.h"
#include "trail_keys.h"

struct trail_point {
	struct checkpoint c;
	enum note_result is; /* by one of the keys */
};

struct trail_list {
	struct trail_point *point; /* as they stand there */
	size_t n;
	bool failed; /* memory ran out: the list is not whole */
};

/*
 * Add every checkpoint in n bytes: notes as the service writes them to a file or posts them, and lines of a
 * log with "yoke checkpoint |" in them (daemon/carrier/keep.h). Everything else is passed over.
 */
void trail_list_add(struct trail_list *l, const char *s, size_t n, const struct trail_keys *keys);
void trail_list_free(struct trail_list *l);

#endif
