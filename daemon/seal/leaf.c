#include "leaf.h"

#include <string.h>

struct reader {
	const unsigned char *p;
	size_t left;
	bool bad;
};

/* The next n bytes, or NULL. */
static const void *take(struct reader *r, size_t n)
{
	const unsigned char *p = r->p;

	if (r->bad || r->left < n) {
		r->bad = true;
		return NULL;
	}
	r->p += n;
	r->left -= n;
	return p;
}

static uint64_t take_number(struct reader *r, size_t n)
{
	const unsigned char *p = take(r, n);
	uint64_t x = 0;

	for (size_t i = 0; p && i < n; i++)
		x = x << 8 | p[i];
	return x;
}

static void take_text(struct reader *r, struct leaf_text *out)
{
	size_t n = take_number(r, 4);

	out->s = take(r, n);
	out->n = out->s ? n : 0;
	if (!out->s)
		out->s = "";
}

static bool take_sha(struct reader *r, struct sha *out)
{
	uint64_t has = take_number(r, 1);
	const void *p = has == 1 ? take(r, sizeof(out->b)) : NULL;

	if (has > 1)
		r->bad = true;
	if (p)
		memcpy(out->b, p, sizeof(out->b));
	return p != NULL;
}

static void take_part(struct reader *r, struct event_part *out)
{
	struct leaf_text channel;

	take_text(r, &channel);
	if (channel.n > YOKE_NAME_MAX) {
		r->bad = true;
		return;
	}
	memcpy(out->channel, channel.s, channel.n);
	out->has_before = take_sha(r, &out->before);
	out->has_after = take_sha(r, &out->after);
}

bool leaf_read(const void *bytes, size_t n, struct leaf *out)
{
	struct reader r = {bytes, n, false};
	struct leaf_text *const texts[] = {&out->kind, &out->who, &out->from, &out->machine,
	    &out->job, &out->revision, &out->outcome, &out->text, &out->detail};
	const void *p;

	*out = (struct leaf){0};
	p = take(&r, sizeof(out->before.b));
	if (p)
		memcpy(out->before.b, p, sizeof(out->before.b));
	p = take(&r, sizeof(LEAF_VERSION) - 1);
	if (p && memcmp(p, LEAF_VERSION, sizeof(LEAF_VERSION) - 1) != 0)
		r.bad = true;
	out->seq = take_number(&r, 8);
	out->utc_us = (int64_t)take_number(&r, 8);
	out->order = take_number(&r, 8);
	for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++)
		take_text(&r, texts[i]);
	out->parts = (uint32_t)take_number(&r, 4);
	if (out->parts > YOKE_CHANNELS_MAX)
		r.bad = true;
	for (uint32_t i = 0; i < out->parts && !r.bad; i++)
		take_part(&r, &out->part[i]);
	return !r.bad && r.left == 0;
}
