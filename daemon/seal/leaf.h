/*
 * An entry of the trail as the bytes that the chain and the tree hash, read back by who has nothing but
 * them. A leaf is, in this order:
 *
 *   the hash of the entry before it, 32 bytes; 32 zero bytes for the first
 *   "yoke event 1\n"
 *   seq, utc_us, order                      each 8 bytes, big-endian (utc_us as two's complement)
 *   kind, who, from, machine, job,
 *   revision, outcome, text, detail         each 4 bytes length, big-endian, then that many bytes
 *   count of parts, 4 bytes; for each part  the channel's name with its length, one byte 0 or 1 and the
 *                                           SHA-256 before, the same after
 *
 * The entry's hash in the chain is SHA-256(leaf), its hash in the tree SHA-256(00 || leaf).
 */
#ifndef SEAL_LEAF_H
#define SEAL_LEAF_H

#include "yoke/event.h"

#define LEAF_VERSION "yoke event 1\n"

/* A view: the texts, which have no end of their own, belong to the bytes. */
struct leaf_text {
	const char *s;
	size_t n;
};

struct leaf {
	struct sha before;
	uint64_t seq, order;
	int64_t utc_us;
	struct leaf_text kind, who, from, machine, job, revision, outcome, text, detail;
	struct event_part part[YOKE_CHANNELS_MAX];
	uint32_t parts;
};

/* Read n bytes. False when they are not exactly one leaf. */
bool leaf_read(const void *bytes, size_t n, struct leaf *out);

#endif
