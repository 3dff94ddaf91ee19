/* When each signal was sent: its receiver cannot go on before. */
#include <stdlib.h>
#include <string.h>
#include "timeline_inside.h"

static struct timeline_queue *queue(struct timeline_signals *s, const struct wait_signal *of)
{
	for (size_t i = 0; i < s->n; i++)
		if (s->queue[i].code == of->code && s->queue[i].channel == of->channel)
			return &s->queue[i];
	if (s->n == WAIT_SIGNALS_MAX)
		return NULL;
	s->queue[s->n].code = of->code;
	s->queue[s->n].channel = of->channel;
	return &s->queue[s->n++];
}

static bool push(struct timeline_queue *q, const struct timeline_sent *sent)
{
	if (q->head > 0 && q->head == q->n)
		q->head = q->n = 0;
	if (q->n == q->cap) {
		size_t cap = q->cap ? 2 * q->cap : 8;
		struct timeline_sent *v = reallocarray(q->v, cap, sizeof(*v));

		if (!v)
			return false;
		q->v = v;
		q->cap = cap;
	}
	q->v[q->n++] = *sent;
	return true;
}

static uint32_t count(const struct wait_signals *s, const struct wait_signal *of)
{
	for (size_t i = 0; i < s->n; i++)
		if (s->v[i].code == of->code && s->v[i].channel == of->channel)
			return s->v[i].count;
	return 0;
}

static bool sent_now(struct timeline_signals *s, const struct wait_signals *before,
    const struct wait_signals *after, const struct timeline_sent *sent)
{
	for (size_t i = 0; i < after->n; i++) {
		uint32_t had = count(before, &after->v[i]);
		struct timeline_queue *q;

		if (after->v[i].count <= had)
			continue;
		q = queue(s, &after->v[i]);
		for (uint32_t k = had; q && k < after->v[i].count; k++)
			if (!push(q, sent))
				return false;
	}
	return true;
}

bool timeline_signal_change(struct timeline_signals *s, const struct wait_signals *before,
    const struct wait_signals *after, const struct timeline_sent *sent, struct timeline_sent *used,
    bool *waited)
{
	*waited = false;
	if (!sent_now(s, before, after, sent))
		return false;
	for (size_t i = 0; i < before->n; i++) {
		uint32_t has = count(after, &before->v[i]);
		struct timeline_queue *q =
		    has < before->v[i].count ? queue(s, &before->v[i]) : NULL;

		for (uint32_t k = has; q && k < before->v[i].count && q->head < q->n; k++) {
			const struct timeline_sent *one = &q->v[q->head++];

			if (!*waited || one->at_seconds > used->at_seconds)
				*used = *one;
			*waited = true;
		}
	}
	return true;
}

void timeline_signal_free(struct timeline_signals *s)
{
	for (size_t i = 0; i < s->n; i++)
		free(s->queue[i].v);
	memset(s, 0, sizeof(*s));
}
