/*
 * The events of a drift stand behind the last event after which the machine was as it should be. Of
 * each channel the newest counts.
 */
#include "drifted.h"

#include <stdio.h>
#include <string.h>
#include "sameness.h"
#include "show_json.h"

struct looking {
	struct drifted *out;
	bool seen[YOKE_CHANNELS_MAX];
};

/* What the event's detail says of a channel: see sameness.h. */
static void take_detail(struct drifted *d, uint32_t i, const char *detail)
{
	json_t *o = detail && *detail ? json_loads(detail, 0, NULL) : NULL;
	enum weight weight = d->changed[i] ? WEIGHT_REFUSE : WEIGHT_OFF;
	const json_t *c;
	size_t k;

	json_array_foreach(json_object_get(o, "channels"), k, c)
	{
		const char *channel = json_string_value(json_object_get(c, "channel"));
		const char *word = json_string_value(json_object_get(c, "weight"));
		const char *holds = json_string_value(json_object_get(c, "holds"));

		if (!channel || strcmp(channel, d->part[i].channel))
			continue;
		for (enum weight w = WEIGHT_OFF; word && w <= WEIGHT_REFUSE; w++)
			if (!strcmp(word, finding_weight_name(w)))
				weight = w;
		snprintf(d->holds[i], sizeof(d->holds[i]), "%s", holds ? holds : "");
	}
	if (weight > d->weight)
		d->weight = weight;
	d->wrong = d->wrong || *d->holds[i];
	json_decref(o);
}

static void take_part(struct looking *l, const struct event_part *p, const char *detail)
{
	struct drifted *d = l->out;

	for (uint32_t i = 0; i < d->parts; i++) {
		if (l->seen[i] || strcmp(d->part[i].channel, p->channel))
			continue;
		l->seen[i] = true;
		d->changed[i] = !p->has_after || !p->has_before ||
		                memcmp(&p->before, &p->after, sizeof(p->after));
		if (d->changed[i]) {
			d->part[i].present = p->has_after;
			d->part[i].sha = p->after;
		}
		take_detail(d, i, detail);
	}
}

static int take_event(void *ctx, const struct event *e, const struct sha *hash)
{
	struct looking *l = ctx;

	if (e->kind == EVENT_CARRIED || e->kind == EVENT_READ_BACK ||
	    e->kind == EVENT_LOADED || e->kind == EVENT_ADOPTED)
		return 1;
	if (e->kind != EVENT_DRIFT)
		return 0;
	for (uint32_t i = 0; i < e->parts; i++)
		take_part(l, &e->part[i], e->detail);
	l->out->utc_us = e->utc_us;
	return 0;
}

int drifted_now(struct service *s, const struct vault_machine *held, struct drifted *out)
{
	struct vault_filter newest = {.machine = held->name};
	struct looking l = {.out = out};

	memset(out, 0, sizeof(*out));
	memcpy(out->part, held->part, sizeof(out->part));
	out->parts = held->parts;
	if (vault_events(s->vault, &newest, take_event, &l) < 0)
		return -1;
	out->empty = out->parts > 0;
	for (uint32_t i = 0; i < out->parts; i++)
		out->empty = out->empty && !out->part[i].present;
	return 0;
}

json_t *drifted_json(const struct drifted *d)
{
	json_t *o = json_pack("{s:o, s:s, s:b, s:b}", "parts", show_json_parts(d->part, d->parts),
	    "weight", finding_weight_name(d->weight), "empty", d->empty, "wrong", d->wrong);
	json_t *part;
	size_t i;

	json_array_foreach(json_object_get(o, "parts"), i, part)
	{
		json_object_set_new(part, "changed", json_boolean(d->changed[i]));
		show_json_put(part, "holds", d->holds[i]);
	}
	show_json_time(o, "since", d->utc_us);
	show_json_put(o, "by", SAMENESS_WHO);
	return o;
}
