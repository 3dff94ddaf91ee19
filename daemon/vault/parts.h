/*
 * The parts of an event or of a state, one per channel, as one row of bytes:
 *
 *   count           u32, big-endian, at most YOKE_CHANNELS_MAX
 *   for each part   channel: u32 length, bytes
 *                   before:  one byte 0, or one byte 1 and 32 bytes SHA-256
 *                   after:   the same
 */
#ifndef VAULT_PARTS_H
#define VAULT_PARTS_H

#include "vault.h"

enum { PARTS_MAX = 4 + YOKE_CHANNELS_MAX * (4 + YOKE_NAME_MAX + 2 * (1 + YOKE_SHA_SIZE)) };

struct parts_bytes {
	unsigned char b[PARTS_MAX];
	size_t n;
};

/* Write count parts (at most YOKE_CHANNELS_MAX; the caller has checked). */
void parts_encode(struct parts_bytes *out, const struct event_part *part, uint32_t count);

/* Read them back: 0, or -1 when the bytes are not exactly such a row; then *count is 0. */
int parts_decode(const void *bytes, size_t n, struct event_part *part, uint32_t *count);

/* The after side of an event's parts, as a state keeps it. Returns the number of parts. */
uint32_t parts_after(struct vault_part *out, const struct event_part *part, uint32_t count);

/* A state's parts as the after side of an event's. Returns the number of parts. */
uint32_t parts_as_after(struct event_part *out, const struct vault_part *part, uint32_t count);

/* Whether two sets of parts name the same channels with the same, present programs; the order does
 * not matter. */
bool parts_same(const struct vault_part *a, uint32_t as, const struct vault_part *b, uint32_t bs);

/* Order by channel's name, so that equal sets have equal bytes. */
void parts_sort(struct vault_part *part, uint32_t count);

#endif
