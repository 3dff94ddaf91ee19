/*
 * What differs between two programs, as JSON, for `yoke change --json`, the API and events:
 *
 * {
 *   "sameness": "same bytes" | "same text" | "same meaning" | "different",
 *   "old": file, "new": file,           file: {"file": string, "size": bytes, "sha256": hex}
 *   "counts": {KIND: n, ...},           kinds that occur, all changes
 *   "renumbered": n,                    blocks that differ in sequence numbers alone: no changes
 *   "shown": n,
 *   "changes": [{"kind": string, "weight": string, "what": string, "old_line": n, "new_line": n,
 *     "old": string, "new": string}...]          line 0 and "": the block is new, or gone
 * }
 */
#ifndef CHANGE_JSON_H
#define CHANGE_JSON_H

#include <jansson.h>
#include <stdint.h>
#include "yoke/change.h"
#include "yoke/limits.h"

/* One of the two programs. bytes are not looked at and stay the caller's. */
struct change_json_file {
	const char *file;
	char *bytes;
	size_t n;
	uint8_t sum[YOKE_SHA_SIZE];
};

/* A new reference, or NULL when memory runs out. */
json_t *change_json_list(const struct change_list *l, const struct change_json_file *old_file,
    const struct change_json_file *new_file);

#endif
