/*
 * Checkpoints: what the trail was at a time. The text of a signed note, after the open specification
 * "tlog-checkpoint" of C2SP (c2sp.org/tlog-checkpoint, from memory; see tests/peers/trail.sh):
 *
 *   ORIGIN               the trail's name, which is also that of its keys: "yoke/" and 16 hexadecimal
 *                        digits, the first 8 bytes of the SHA-256 of its first public key
 *   SIZE                 entries, decimal
 *   ROOT                 of the tree over them (tree.h), base64
 *   number NUMBER        how many checkpoints this trail has with this one; no gaps
 *   time TIME            when it was made, UTC: 2031-04-05T06:07:08Z
 *
 * The last two are lines of our own, which the specification allows behind the root.
 */
#ifndef SEAL_CHECKPOINT_H
#define SEAL_CHECKPOINT_H

#include "note.h"
#include "yoke/event.h"

enum { CHECKPOINT_TIME_MAX = 20 }; /* characters of a time */

struct checkpoint {
	char origin[NOTE_NAME_MAX + 1];
	uint64_t size, number;
	struct sha root;
	int64_t utc_s; /* seconds since 1970 UTC, years 1970 to 9999 */
};

/* The origin that a trail gets with its first key. 0, -1 libcrypto failed. */
int checkpoint_origin(const uint8_t public[ED25519_PUBLIC], char out[NOTE_NAME_MAX + 1]);

/* Append the text. */
void checkpoint_write(const struct checkpoint *c, struct text *out);

/* Read the text of a note. False when it is not exactly what checkpoint_write writes. */
bool checkpoint_read(const char *s, size_t n, struct checkpoint *out);

/* The time as in the text, into out. */
void checkpoint_time(int64_t utc_s, char out[CHECKPOINT_TIME_MAX + 1]);

#endif
