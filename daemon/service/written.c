#include "written.h"

#include <stdlib.h>
#include <string.h>
#include "conf_line.h"
#include "sha256.h"
#include "yoke/text.h"

enum { EVENTS_MOST = 2000 }; /* of a machine, looked through for its last change */

static bool same(const struct sha *a, const struct sha *b)
{
	return !memcmp(a, b, sizeof(*a));
}

static void put_sum(json_t *o, const char *key, const struct sha *sha)
{
	char hex[YOKE_SHA_HEX + 1];

	sha256_hex(sha->b, hex);
	json_object_set_new(o, key, json_string(hex));
}

static bool get_sum(const json_t *o, const char *key, struct sha *sha)
{
	const char *hex = json_string_value(json_object_get(o, key));

	return hex && sha256_parse(hex, sha->b);
}

/* True when one of the two differs. */
static bool put_sums(json_t *o, const struct carry_item *item, const struct sha *program,
    const struct sha *before)
{
	bool differs = false;

	if (program && !same(program, &item->want)) {
		put_sum(o, "program", program);
		put_sum(o, "written", &item->want);
		differs = true;
	}
	if (before && item->has_expect && !same(before, &item->expect)) {
		put_sum(o, "before", before);
		put_sum(o, "expected", &item->expect);
		differs = true;
	}
	return differs;
}

void written_put(json_t *channel, const struct carry_item *item, const struct sha *program,
    const struct sha *before)
{
	if (!line_is_share(item->line.kind))
		return;
	json_object_set_new(channel, "name", json_string(item->target));
	put_sums(channel, item, program, before);
}

static void put_place(json_t *o, const struct line *line)
{
	struct text place = {0};

	conf_line_place(line, &place);
	if (!place.failed)
		json_object_set_new(o, "place", json_string(place.s));
	text_free(&place);
}

/* The channel is still where the order was begun; before that was noted, nobody knows better. */
static bool same_place(const json_t *one, const struct line *line)
{
	const char *was = json_string_value(json_object_get(one, "place"));
	struct text is = {0};
	bool same;

	conf_line_place(line, &is);
	same = !was || (is.s && !strcmp(was, is.s));
	text_free(&is);
	return same;
}

/* {"channels": all}, or NULL; all is released. */
static char *dump(json_t *o, json_t *all)
{
	char *text;

	json_object_set_new(o, "channels", all);
	text = json_dumps(o, JSON_COMPACT);
	json_decref(o);
	return text;
}

static const struct sha *before_of(const struct service_machine *m, uint32_t i)
{
	return m->has_before[i] ? &m->before[i] : NULL;
}

char *written_begin(const struct service_machine *m, const struct carry_order *order)
{
	json_t *all = json_array();

	for (uint32_t i = 0; i < order->items; i++) {
		json_t *one = json_pack("{s:s}", "channel", order->item[i].channel);

		written_put(one, &order->item[i],
		    carry_brings(order->act) ? &m->program[i] : NULL, before_of(m, i));
		put_place(one, &order->item[i].line);
		json_array_append_new(all, one);
	}
	if (line_is_share(order->item[0].line.kind))
		return dump(json_object(), all);
	json_decref(all);
	return NULL;
}

char *written_tell(char *detail, const struct service_machine *m, const struct carry_order *order)
{
	json_t *all = json_array(), *o;
	char *told;

	for (uint32_t i = 0; i < order->items; i++) {
		json_t *one = json_pack("{s:s}", "channel", order->item[i].channel);

		if (put_sums(one, &order->item[i], NULL, before_of(m, i)))
			json_array_append(all, one);
		json_decref(one);
	}
	o = detail ? json_loads(detail, 0, NULL) : json_object();
	if (!o || !json_array_size(all)) {
		json_decref(o);
		json_decref(all);
		return detail;
	}
	told = dump(o, all);
	if (told)
		free(detail);
	return told ? told : detail;
}

/* A channel's object in an event's detail, NULL for none. */
static const json_t *channel_in(const json_t *detail, const char *channel)
{
	size_t i;
	json_t *one;

	json_array_foreach(json_object_get(detail, "channels"), i, one) {
		const char *name = json_string_value(json_object_get(one, "channel"));

		if (name && !strcmp(name, channel))
			return one;
	}
	return NULL;
}

struct expect {
	struct carry_order *order;
	bool done[YOKE_CHANNELS_MAX];
};

/* The event says that the item's channel holds the program that is expected there. */
static bool names(const struct event *e, const struct carry_item *item)
{
	for (uint32_t i = 0; i < e->parts; i++)
		if (!strcmp(e->part[i].channel, item->channel))
			return e->part[i].has_after && same(&e->part[i].after, &item->expect);
	return false;
}

/* bring: the order brings what lies there, under whatever name that is. */
static void take_sums(const json_t *one, struct carry_item *item, bool bring)
{
	const char *name = json_string_value(json_object_get(one, "name"));
	struct sha program, lies;

	if (name && bring && strlen(name) < sizeof(item->target))
		memcpy(item->target, name, strlen(name) + 1);
	if (name && strcmp(name, item->target) != 0)
		item->has_expect = false;
	else if ((get_sum(one, "program", &program) && same(&program, &item->expect) &&
	             get_sum(one, "written", &lies)) ||
	         (get_sum(one, "before", &program) && same(&program, &item->expect) &&
	             get_sum(one, "expected", &lies)))
		item->expect = lies;
}

/* Ends with 1 at the last event after which it was certain what the machine held. */
static int take_change(void *ctx, const struct event *e, const struct sha *hash)
{
	struct expect *x = ctx;
	json_t *detail;

	if (e->kind != EVENT_CARRIED && e->kind != EVENT_SPLIT && e->kind != EVENT_UNKNOWN)
		return 0;
	detail = e->detail ? json_loads(e->detail, 0, NULL) : NULL;
	for (uint32_t i = 0; i < x->order->items; i++) {
		struct carry_item *item = &x->order->item[i];

		if (x->done[i] || !item->has_expect || !names(e, item))
			continue;
		take_sums(channel_in(detail, item->channel), item, x->order->act == CARRY_FETCH);
		x->done[i] = true;
	}
	json_decref(detail);
	return e->kind != EVENT_UNKNOWN;
}

void written_expect(struct service *s, struct carry_order *order)
{
	struct expect x = {.order = order};
	struct vault_filter newest = {.machine = order->machine, .limit = EVENTS_MOST};
	bool any = false;

	for (uint32_t i = 0; i < order->items; i++)
		any = any || (order->item[i].has_expect && line_is_share(order->item[i].line.kind));
	/* Where it cannot be read, what differs by its line ends alone is found to be the same later. */
	if (any)
		vault_events(s->vault, &newest, take_change, &x);
}

struct begun {
	const struct vault_order *o;
	struct carry_order *order;
	bool moved;
};

static int take_begin(void *ctx, const struct event *e, const struct sha *hash)
{
	struct begun *b = ctx;
	json_t *detail;

	if (e->order != b->o->id || !e->detail)
		return 1;
	detail = json_loads(e->detail, 0, NULL);
	for (uint32_t i = 0; i < b->order->items; i++) {
		struct carry_item *item = &b->order->item[i];
		const json_t *one = channel_in(detail, item->channel);
		const char *name = json_string_value(json_object_get(one, "name"));
		struct sha program;

		b->moved = b->moved || !same_place(one, &item->line);
		if (name && strlen(name) < sizeof(item->target))
			memcpy(item->target, name, strlen(name) + 1);
		if (get_sum(one, "program", &program) && same(&program, &item->want))
			get_sum(one, "written", &item->want);
		if (get_sum(one, "before", &program))
			item->has_expect = get_sum(one, "expected", &item->expect);
	}
	json_decref(detail);
	return 1;
}

bool written_begun(struct service *s, const struct vault_order *o, struct carry_order *order)
{
	struct begun b = {o, order, false};
	struct vault_filter newest = {
	    .kind = event_name(EVENT_CARRYING), .machine = o->machine, .limit = 1};

	if (line_is_share(order->item[0].line.kind))
		vault_events(s->vault, &newest, take_begin, &b);
	return !b.moved;
}

const struct sha *written_program(const struct service_machine *m, const struct carry_order *order,
    uint32_t i, const struct sha *sha)
{
	const struct carry_item *item = &order->item[i];

	if (order->act != CARRY_FETCH && same(sha, &item->want))
		return &m->program[i];
	return item->has_expect && m->has_before[i] && same(sha, &item->expect) ? &m->before[i]
	                                                                        : sha;
}
