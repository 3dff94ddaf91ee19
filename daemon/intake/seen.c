#include "seen.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>

enum { BUCKETS_FIRST = 256 };

/* FNV-1a, begun at a random value so that nobody can choose names that share a bucket by rote. */
static uint32_t hash_of(const struct seen *s, const char *path)
{
	uint32_t h = s->seed;

	for (; *path; path++)
		h = (h ^ (unsigned char)*path) * UINT32_C(16777619);
	return h ^ (h >> 15);
}

int seen_init(struct seen *s)
{
	memset(s, 0, sizeof(*s));
	s->buckets = calloc(BUCKETS_FIRST, sizeof(struct seen_file *));
	if (!s->buckets)
		return -ENOMEM;
	s->bucket_count = BUCKETS_FIRST;
	if (getrandom(&s->seed, sizeof(s->seed), GRND_NONBLOCK) != (ssize_t)sizeof(s->seed))
		s->seed = UINT32_C(2166136261); /* early in a boot: the constant of FNV does */
	return 0;
}

static void free_file(void *ctx, struct seen_file *f)
{
	(void)ctx;
	free(f);
}

void seen_end(struct seen *s)
{
	seen_each(s, free_file, NULL);
	free(s->buckets);
	memset(s, 0, sizeof(*s));
}

struct seen_file *seen_find(const struct seen *s, const char *path)
{
	uint32_t hash = hash_of(s, path);
	struct seen_file *f = s->buckets[hash & (s->bucket_count - 1)];

	while (f && (f->hash != hash || strcmp(f->path, path) != 0))
		f = f->chain;
	return f;
}

/* Without memory the table stays as it is: slower, not wrong. */
static void grow(struct seen *s)
{
	size_t wider = s->bucket_count * 2;
	struct seen_file **buckets = calloc(wider, sizeof(struct seen_file *));

	if (!buckets)
		return;
	for (size_t i = 0; i < s->bucket_count; i++) {
		for (struct seen_file *f = s->buckets[i], *next; f; f = next) {
			next = f->chain;
			f->chain = buckets[f->hash & (wider - 1)];
			buckets[f->hash & (wider - 1)] = f;
		}
	}
	free(s->buckets);
	s->buckets = buckets;
	s->bucket_count = wider;
}

struct seen_file *seen_get(struct seen *s, const char *path)
{
	struct seen_file *f = seen_find(s, path);
	size_t len = strlen(path);

	if (f)
		return f;
	f = calloc(1, sizeof(*f) + len + 1);
	if (!f)
		return NULL;
	if (s->count >= s->bucket_count)
		grow(s);
	memcpy(f->path, path, len + 1);
	f->hash = hash_of(s, path);
	f->chain = s->buckets[f->hash & (s->bucket_count - 1)];
	s->buckets[f->hash & (s->bucket_count - 1)] = f;
	s->count++;
	return f;
}

static void unqueue(struct seen *s, struct seen_file *f)
{
	if (f->prev)
		f->prev->next = f->next;
	else
		s->first = f->next;
	if (f->next)
		f->next->prev = f->prev;
	else
		s->last = f->prev;
	f->prev = f->next = NULL;
	f->queued = false;
}

void seen_drop(struct seen *s, struct seen_file *f)
{
	struct seen_file **p = &s->buckets[f->hash & (s->bucket_count - 1)];

	if (f->queued)
		unqueue(s, f);
	while (*p != f)
		p = &(*p)->chain;
	*p = f->chain;
	s->count--;
	free(f);
}

void seen_queue(struct seen *s, struct seen_file *f, enum candidate_cue cue)
{
	f->cue = cue;
	if (f->queued)
		return;
	f->queued = true;
	f->prev = s->last;
	if (s->last)
		s->last->next = f;
	else
		s->first = f;
	s->last = f;
}

struct seen_file *seen_next(struct seen *s)
{
	struct seen_file *f = s->first;

	if (f)
		unqueue(s, f);
	return f;
}

void seen_each(struct seen *s, void (*each)(void *ctx, struct seen_file *f), void *ctx)
{
	for (size_t i = 0; i < s->bucket_count; i++) {
		for (struct seen_file *f = s->buckets[i], *next; f; f = next) {
			next = f->chain;
			each(ctx, f);
		}
	}
}
