/*
 * Archives: a copy of the trail up to a checkpoint, and of every program that it names, in one file that
 * can be checked without any service. Nothing leaves the vault by it.
 *
 * The file is lines, each one JSON object (RFC 8259) with a line end, in this order:
 *
 *   {"yoke archive": 1, "entries": N, "before": TIME, "made": TIME, "by": WHO, "reading": TEXT}
 *   {"event": {...}, "leaf": BASE64}          N times, from entry 1 on: the entry as the API has it, its
 *                                             hash too, and the bytes that are hashed (leaf.h)
 *   {"checkpoint": TEXT}                      the signed note (checkpoint.h) over exactly these entries
 *   {"program": SHA256, "size": BYTES}        for each program that an entry names, by SHA-256; its bytes
 *                                             follow as they are, and a line end
 *   {"program": SHA256, "missing": true}      or the vault did not have it
 *   {"end": true}                             and nothing behind it
 *
 * What holds: each entry's bytes begin with the SHA-256 of those before it; the tree over all of them
 * (tree.h) has the root that the checkpoint signs; each program has its SHA-256; none that an entry names
 * is left out without a word.
 */
#ifndef ARCHIVE_H
#define ARCHIVE_H

#include <jansson.h>
#include "leaf.h"

#define ARCHIVE_MARK "yoke archive"
enum { ARCHIVE_VERSION = 1 };

/* The entry in the leaf's n bytes, as the API has it; *out views the bytes. A new reference, NULL when
 * they are none, or without memory. */
json_t *archive_entry(const void *bytes, size_t n, struct leaf *out);

#endif
