/* A hash of bytes, for tables: the multiplier is 2^64 over the golden ratio (Knuth, The Art of
 * Computer Programming, 6.4). */
#ifndef WAIT_HASH_H
#define WAIT_HASH_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

static inline uint64_t hash_bytes(const uint8_t *p, size_t n)
{
	uint64_t h = n;

	for (; n >= sizeof(uint64_t); n -= sizeof(uint64_t), p += sizeof(uint64_t)) {
		uint64_t word;

		memcpy(&word, p, sizeof word);
		h = (h ^ word) * 0x9E3779B97F4A7C15u;
		h ^= h >> 32;
	}
	for (; n; n--, p++)
		h = (h ^ *p) * 0x9E3779B97F4A7C15u;
	h *= 0x9E3779B97F4A7C15u;
	return h ^ h >> 32;
}

#endif
