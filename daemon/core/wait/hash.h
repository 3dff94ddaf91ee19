/* FNV-1a, 64 bits, by words where there are some (public domain, Fowler, Noll, Vo). */
#ifndef WAIT_HASH_H
#define WAIT_HASH_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

static inline uint64_t hash_bytes(const uint8_t *p, size_t n)
{
	uint64_t h = 14695981039346656037u;

	for (; n >= sizeof(uint64_t); n -= sizeof(uint64_t), p += sizeof(uint64_t)) {
		uint64_t word;

		memcpy(&word, p, sizeof word);
		h = (h ^ word) * 1099511628211u;
		h ^= h >> 32;
	}
	for (; n; n--, p++)
		h = (h ^ *p) * 1099511628211u;
	return h ^ h >> 29;
}

#endif
