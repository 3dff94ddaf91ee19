/* Pieces of bytes found again by their hash, with open addressing, at most half full. */
#include "product_index.h"
#include <stdlib.h>
#include <string.h>
#include "hash.h"
#include "walk.h"

static const struct piece *piece_of(const void *v, size_t size, size_t i)
{
	return (const void *)((const char *)v + i * size);
}

/* A piece in which nothing can be told apart has no bytes; the store may have none then. */
static uint64_t hash_of(const struct wait_bytes *bytes, size_t at, size_t n)
{
	return n ? hash_bytes(bytes->v + at, n) : 0;
}

bool index_room(
    struct index *x, const struct wait_bytes *bytes, const void *v, size_t size, size_t n)
{
	size_t slots = x->slots ? x->slots * 2 : 64;
	uint32_t *slot;

	if (n * 2 < x->slots)
		return true;
	slot = calloc(slots, sizeof *slot);
	if (!slot)
		return false;
	free(x->slot);
	x->slot = slot;
	x->slots = slots;
	for (size_t i = 0; i < n; i++) {
		const struct piece *p = piece_of(v, size, i);
		size_t h = hash_of(bytes, p->at, p->n) & (slots - 1);

		while (slot[h])
			h = (h + 1) & (slots - 1);
		slot[h] = (uint32_t)i + 1;
	}
	return true;
}

uint32_t *index_slot(
    const struct index *x, const struct wait_bytes *bytes, const void *v, size_t size, size_t at)
{
	size_t n = bytes->n - at, h = hash_of(bytes, at, n) & (x->slots - 1);

	for (; x->slot[h]; h = (h + 1) & (x->slots - 1)) {
		const struct piece *p = piece_of(v, size, x->slot[h] - 1);

		if (p->n == n && (n == 0 || memcmp(bytes->v + p->at, bytes->v + at, n) == 0))
			break;
	}
	return &x->slot[h];
}

void index_clear(struct index *x)
{
	if (x->slots)
		memset(x->slot, 0, x->slots * sizeof *x->slot);
}

void index_free(struct index *x)
{
	free(x->slot);
	*x = (struct index){0};
}
