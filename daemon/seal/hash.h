/* SHA-256 (FIPS 180-4) over bytes that come in pieces, through libcrypto. */
#ifndef SEAL_HASH_H
#define SEAL_HASH_H

#include <stddef.h>
#include <stdint.h>
#include "yoke/event.h"

struct hash;

/* A hash of nothing so far; NULL when memory or libcrypto fails. The caller frees it. */
struct hash *hash_new(void);
void hash_free(struct hash *h); /* NULL does nothing */

/* Begin again. A failure is remembered until the next start and told by hash_end. */
void hash_start(struct hash *h);
void hash_add(struct hash *h, const void *bytes, size_t n);

/* Numbers are added as big-endian bytes. */
void hash_add_u32(struct hash *h, uint32_t x);
void hash_add_u64(struct hash *h, uint64_t x);

/* The hash of what was added since hash_start: 0, or -1 when libcrypto failed on the way. */
int hash_end(struct hash *h, struct sha *out);

#endif
