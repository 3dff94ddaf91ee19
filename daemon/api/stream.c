/*
 *   asleep (suspended)  --send, end-->  awake  --nothing left: suspend-->  asleep
 *                                         |--ended and nothing left--> closed
 *
 * A connection that waits for lines is suspended, so that the daemon does not ask it again and
 * again.
 */
#include "stream.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>

struct stream {
	struct stream *next;
	struct stream_list *list;
	struct MHD_Connection *connection;
	uint64_t topic;
	char *bytes;
	size_t n, cap;
	bool asleep, ended, lost; /* lost: the reader was too far behind, or memory ran out */
};

static ssize_t on_read(void *ctx, uint64_t pos, char *out, size_t max)
{
	struct stream *s = ctx;

	if (s->lost)
		return MHD_CONTENT_READER_END_WITH_ERROR;
	if (!s->n) {
		if (s->ended)
			return MHD_CONTENT_READER_END_OF_STREAM;
		s->asleep = true;
		MHD_suspend_connection(s->connection);
		return 0;
	}
	if (max > s->n)
		max = s->n;
	memcpy(out, s->bytes, max);
	s->n -= max;
	memmove(s->bytes, s->bytes + max, s->n);
	return (ssize_t)max;
}

static void on_free(void *ctx)
{
	struct stream *s = ctx, **p = &s->list->first;

	while (*p && *p != s)
		p = &(*p)->next;
	if (*p)
		*p = s->next;
	free(s->bytes);
	free(s);
}

struct MHD_Response *stream_response(
    struct stream_list *l, struct MHD_Connection *connection, uint64_t topic)
{
	struct stream *s = calloc(1, sizeof(*s));
	struct MHD_Response *r;

	if (!s)
		return NULL;
	s->list = l;
	s->connection = connection;
	s->topic = topic;
	s->next = l->first;
	l->first = s;
	r = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 16384, on_read, s, on_free);
	if (!r)
		on_free(s);
	return r;
}

static int wake(struct stream *s)
{
	if (!s->asleep)
		return 0;
	s->asleep = false;
	MHD_resume_connection(s->connection);
	return 1;
}

static void add(struct stream *s, const char *bytes, size_t n)
{
	if (s->n + n > STREAM_BEHIND_MAX) {
		s->lost = true;
		return;
	}
	if (s->n + n > s->cap) {
		size_t cap = (s->n + n) * 2;
		char *more = realloc(s->bytes, cap);

		if (!more) {
			s->lost = true;
			return;
		}
		s->bytes = more;
		s->cap = cap;
	}
	memcpy(s->bytes + s->n, bytes, n);
	s->n += n;
}

int stream_send(struct stream_list *l, uint64_t topic, const char *bytes, size_t n)
{
	int woken = 0;

	for (struct stream *s = l->first; s; s = s->next)
		if (s->topic == topic && !s->ended) {
			add(s, bytes, n);
			woken |= wake(s);
		}
	return woken;
}

int stream_end(struct stream_list *l, uint64_t topic)
{
	int woken = 0;

	for (struct stream *s = l->first; s; s = s->next)
		if (s->topic == topic) {
			s->ended = true;
			woken |= wake(s);
		}
	return woken;
}

int stream_life(struct stream_list *l)
{
	int woken = 0;

	for (struct stream *s = l->first; s; s = s->next)
		if (!s->ended && !s->n) {
			add(s, "\n", 1);
			woken |= wake(s);
		}
	return woken;
}

int stream_end_all(struct stream_list *l)
{
	int woken = 0;

	for (struct stream *s = l->first; s; s = s->next) {
		s->ended = true;
		woken |= wake(s);
	}
	return woken;
}
