#include "due.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include "seen.h"

int due_reserve(struct due *d, size_t n)
{
	size_t room = d->room ? d->room : 64;

	if (n <= d->room)
		return 0;
	while (room < n)
		room *= 2;
	struct seen_file **heap = realloc(d->heap, room * sizeof(struct seen_file *));
	if (!heap)
		return -ENOMEM;
	d->heap = heap;
	d->room = room;
	return 0;
}

void due_end(struct due *d)
{
	free(d->heap);
	d->heap = NULL;
	d->count = d->room = 0;
}

static uint64_t key(const struct due *d, size_t i)
{
	return d->heap[i]->candidate.due_ms;
}

static void swap(struct due *d, size_t a, size_t b)
{
	struct seen_file *f = d->heap[a];

	d->heap[a] = d->heap[b];
	d->heap[b] = f;
	d->heap[a]->due_at = a + 1;
	d->heap[b]->due_at = b + 1;
}

static void settle(struct due *d, size_t i)
{
	while (i > 0 && key(d, i) < key(d, (i - 1) / 2)) {
		swap(d, i, (i - 1) / 2);
		i = (i - 1) / 2;
	}
	for (;;) {
		size_t least = i, left = 2 * i + 1;

		if (left < d->count && key(d, left) < key(d, least))
			least = left;
		if (left + 1 < d->count && key(d, left + 1) < key(d, least))
			least = left + 1;
		if (least == i)
			return;
		swap(d, i, least);
		i = least;
	}
}

void due_set(struct due *d, struct seen_file *f)
{
	if (f->due_at == 0) {
		assert(d->count < d->room);
		d->heap[d->count++] = f;
		f->due_at = d->count;
	}
	settle(d, f->due_at - 1);
}

void due_clear(struct due *d, struct seen_file *f)
{
	size_t i = f->due_at;

	if (i-- == 0)
		return;
	swap(d, i, d->count - 1);
	d->count--;
	f->due_at = 0;
	if (i < d->count)
		settle(d, i);
}

struct seen_file *due_first(const struct due *d)
{
	return d->count ? d->heap[0] : NULL;
}
