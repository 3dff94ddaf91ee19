/* Which of many pieces of bytes equals another: a table over pieces that their owner keeps. */
#ifndef WAIT_PRODUCT_INDEX_H
#define WAIT_PRODUCT_INDEX_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct wait_bytes;

/* Stands first in each element of the owner's array. */
struct piece {
	size_t at, n; /* its bytes in the owner's store */
};

struct index {
	uint32_t *slot; /* by hash of the bytes: index of the element + 1; 0: free */
	size_t slots;
};

/* Room for one element more than the n that stand at v, each of size bytes. False without memory.
 */
bool index_room(
    struct index *x, const struct wait_bytes *bytes, const void *v, size_t size, size_t n);
/* The slot of the element whose piece equals the bytes from at to the store's end; a free one, for
 * the owner to fill, when there is none. After index_room. */
uint32_t *index_slot(
    const struct index *x, const struct wait_bytes *bytes, const void *v, size_t size, size_t at);
/* No elements. */
void index_clear(struct index *x);
void index_free(struct index *x);

#endif
