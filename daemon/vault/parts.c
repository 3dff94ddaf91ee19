#include <stdlib.h>
#include <string.h>
#include "parts.h"

static void put(struct parts_bytes *out, const void *bytes, size_t n)
{
	memcpy(out->b + out->n, bytes, n);
	out->n += n;
}

static void put_u32(struct parts_bytes *out, uint32_t x)
{
	unsigned char b[4] = {x >> 24, x >> 16 & 0xff, x >> 8 & 0xff, x & 0xff};

	put(out, b, sizeof(b));
}

static void put_sha(struct parts_bytes *out, bool has, const struct sha *sha)
{
	put(out, &(unsigned char){has}, 1);
	if (has)
		put(out, sha->b, sizeof(sha->b));
}

void parts_encode(struct parts_bytes *out, const struct event_part *part, uint32_t count)
{
	out->n = 0;
	put_u32(out, count);
	for (uint32_t i = 0; i < count; i++) {
		size_t n = strnlen(part[i].channel, YOKE_NAME_MAX);

		put_u32(out, n);
		put(out, part[i].channel, n);
		put_sha(out, part[i].has_before, &part[i].before);
		put_sha(out, part[i].has_after, &part[i].after);
	}
}

struct reader {
	const unsigned char *p;
	size_t left;
	bool bad;
};

static void get(struct reader *r, void *out, size_t n)
{
	if (r->bad || r->left < n) {
		r->bad = true;
		return;
	}
	memcpy(out, r->p, n);
	r->p += n;
	r->left -= n;
}

static uint32_t get_u32(struct reader *r)
{
	unsigned char b[4] = {0};

	get(r, b, sizeof(b));
	return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
}

static bool get_sha(struct reader *r, struct sha *sha)
{
	unsigned char has = 0;

	get(r, &has, 1);
	if (has > 1)
		r->bad = true;
	if (has == 1)
		get(r, sha->b, sizeof(sha->b));
	return has == 1;
}

int parts_decode(const void *bytes, size_t n, struct event_part *part, uint32_t *count)
{
	struct reader r = {bytes, n, bytes == NULL};
	uint32_t c = get_u32(&r);

	*count = 0;
	if (r.bad || c > YOKE_CHANNELS_MAX)
		return -1;
	memset(part, 0, c * sizeof(*part));
	for (uint32_t i = 0; i < c; i++) {
		uint32_t len = get_u32(&r);

		if (len > YOKE_NAME_MAX)
			return -1;
		get(&r, part[i].channel, len);
		part[i].has_before = get_sha(&r, &part[i].before);
		part[i].has_after = get_sha(&r, &part[i].after);
	}
	if (r.bad || r.left != 0)
		return -1;
	*count = c;
	return 0;
}

uint32_t parts_after(struct vault_part *out, const struct event_part *part, uint32_t count)
{
	memset(out, 0, YOKE_CHANNELS_MAX * sizeof(*out));
	for (uint32_t i = 0; i < count; i++) {
		memcpy(out[i].channel, part[i].channel, sizeof(out[i].channel));
		out[i].present = part[i].has_after;
		if (out[i].present)
			out[i].sha = part[i].after;
	}
	return count;
}

uint32_t parts_as_after(struct event_part *out, const struct vault_part *part, uint32_t count)
{
	memset(out, 0, YOKE_CHANNELS_MAX * sizeof(*out));
	for (uint32_t i = 0; i < count; i++) {
		memcpy(out[i].channel, part[i].channel, sizeof(out[i].channel));
		out[i].has_after = part[i].present;
		out[i].after = part[i].sha;
	}
	return count;
}

bool parts_same(const struct vault_part *a, uint32_t as, const struct vault_part *b, uint32_t bs)
{
	if (as != bs || as == 0)
		return false;
	for (uint32_t i = 0; i < as; i++) {
		uint32_t k = 0;

		while (k < bs && strcmp(a[i].channel, b[k].channel) != 0)
			k++;
		if (k == bs || !a[i].present || !b[k].present)
			return false;
		if (memcmp(&a[i].sha, &b[k].sha, sizeof(a[i].sha)) != 0)
			return false;
	}
	return true;
}

static int by_channel(const void *a, const void *b)
{
	const struct vault_part *x = a, *y = b;

	return strcmp(x->channel, y->channel);
}

void parts_sort(struct vault_part *part, uint32_t count)
{
	qsort(part, count, sizeof(*part), by_channel);
}
