/* Public keys of trails: from a person, from the service. */
#ifndef TRAIL_KEYS_H
#define TRAIL_KEYS_H

#include <stddef.h>
#include "note.h"

struct trail_keys {
	struct note_key *key;
	size_t n;
};

/*
 * From what a person wrote behind --key: a key as `yoke keys` lists it, or a file with such keys, one a
 * line (what stands before and behind a key is passed over, so that the list itself can be that file). 0,
 * or EXIT_USE and said. Free in either case.
 */
int trail_keys_read(const char *verb, const char *given, struct trail_keys *out);

/* From the service. 0, or an exit status and said. */
int trail_keys_ask(struct trail_keys *out);

void trail_keys_free(struct trail_keys *k);

#endif
