#include "archive.h"

#include <stdio.h>
#include <string.h>
#include <time.h>
#include "sha256.h"
#include "yoke/text.h"

static void put(json_t *o, const char *key, const struct leaf_text *value)
{
	json_t *s;

	if (!value->n)
		return;
	s = json_stringn(value->s, value->n);
	if (!s) { /* not UTF-8: shown byte by byte, as the API does */
		struct text visible = {0};

		text_visible(&visible, value->s, value->n);
		s = json_string(visible.s ? visible.s : "?");
		text_free(&visible);
	}
	json_object_set_new(o, key, s);
}

static void put_time(json_t *o, int64_t utc_us)
{
	int us = (int)(utc_us % 1000000);
	time_t s = (time_t)(utc_us / 1000000);
	char time[40], whole[56];
	struct tm tm;

	if (us < 0) {
		us += 1000000;
		s--;
	}
	if (!gmtime_r(&s, &tm) || !strftime(time, sizeof(time), "%Y-%m-%dT%H:%M:%S", &tm))
		snprintf(time, sizeof(time), "?");
	snprintf(whole, sizeof(whole), "%s.%06dZ", time, us);
	json_object_set_new(o, "time", json_string(whole));
}

static void put_sum(json_t *o, const char *key, bool has, const struct sha *sum)
{
	char hex[YOKE_SHA_HEX + 1];

	if (!has)
		return;
	sha256_hex(sum->b, hex);
	json_object_set_new(o, key, json_string(hex));
}

static void put_parts(json_t *o, const struct leaf *l)
{
	json_t *all = json_array();

	for (uint32_t i = 0; i < l->parts; i++) {
		const struct event_part *p = &l->part[i];
		struct leaf_text channel = {p->channel, strlen(p->channel)};
		json_t *part = json_object();

		put(part, "channel", &channel);
		put_sum(part, "before", p->has_before, &p->before);
		put_sum(part, "after", p->has_after, &p->after);
		json_array_append_new(all, part);
	}
	json_object_set_new(o, "parts", all);
}

json_t *archive_entry(const void *bytes, size_t n, struct leaf *out)
{
	struct sha hash;
	json_t *o, *detail;

	if (!leaf_read(bytes, n, out) || sha256_of(bytes, n, hash.b))
		return NULL;
	o = json_object();
	json_object_set_new(o, "seq", json_integer((json_int_t)out->seq));
	put_time(o, out->utc_us);
	put(o, "kind", &out->kind);
	put(o, "who", &out->who);
	put(o, "from", &out->from);
	put(o, "machine", &out->machine);
	put(o, "job", &out->job);
	put(o, "revision", &out->revision);
	if (out->order)
		json_object_set_new(o, "order", json_integer((json_int_t)out->order));
	put(o, "outcome", &out->outcome);
	put(o, "text", &out->text);
	if (out->parts)
		put_parts(o, out);
	detail = out->detail.n ? json_loadb(out->detail.s, out->detail.n, 0, NULL) : NULL;
	if (detail)
		json_object_set_new(o, "detail", detail);
	else
		put(o, "detail", &out->detail);
	put_sum(o, "hash", true, &hash);
	return o;
}
