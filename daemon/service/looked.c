#include "looked.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "manifest.h"
#include "sameness.h"

/* What was told of a channel since the machine was last as it should be. */
struct told {
	const struct event_part *part;
	bool any, same;
};

/* From the newest event backwards: not 0 at the one that decides. */
static int take_told(void *ctx, const struct event *e, const struct sha *hash)
{
	struct told *t = ctx;

	if (e->kind == EVENT_CARRIED || e->kind == EVENT_READ_BACK ||
	    e->kind == EVENT_LOADED || e->kind == EVENT_ADOPTED)
		return 1;
	for (uint32_t i = 0; e->kind == EVENT_DRIFT && i < e->parts; i++)
		if (!strcmp(e->part[i].channel, t->part->channel)) {
			t->any = true;
			t->same = e->part[i].has_after == t->part->has_after &&
			          (!t->part->has_after ||
			              !memcmp(&e->part[i].after, &t->part->after, sizeof(struct sha)));
			return 1;
		}
	return 0;
}

static struct told what_was_told(
    struct service *s, const char *machine, const struct event_part *part)
{
	struct vault_filter newest = {.machine = machine};
	struct told t = {part, false, false};

	if (vault_events(s->vault, &newest, take_told, &t) < 0)
		t.any = t.same = false;
	return t;
}

/* After a restart, or an order, a carrier finds anew what was told before, channel by channel. */
static bool is_told(struct service *s, const char *machine, const struct event_part *part)
{
	return what_was_told(s, machine, part).same;
}

bool looked_order(struct service *s, const struct service_machine *m, struct carry_order *order)
{
	struct vault_order fetch = {.act = "fetch"};
	struct vault_machine held;
	char why[512];

	if (vault_machine(s->vault, m->conf->name, &held) < 0 || held.content != VAULT_LOADED)
		return false;
	memcpy(fetch.machine, m->conf->name, strlen(m->conf->name) + 1);
	memcpy(fetch.job, held.job, sizeof(fetch.job));
	memcpy(fetch.revision, held.revision, sizeof(fetch.revision));
	for (uint32_t i = 0; i < held.parts; i++)
		if (held.part[i].present) {
			fetch.part[fetch.parts] = held.part[i];
			fetch.part[fetch.parts++].present = false;
		}
	if (!fetch.parts || manifest_order(s, m, &fetch, order, why, sizeof(why)))
		return false;
	for (uint32_t i = 0; i < order->items; i++)
		if (!order->item[i].has_expect)
			return false;
	order->act = CARRY_LISTEN;
	order->look_ms = m->conf->look_s * 1000;
	return true;
}

bool looked_has(const struct carry_order *order, const struct carry_content *c)
{
	const struct carry_item *item = &order->item[c->item];

	return item->has_expect && !memcmp(&item->expect, &c->sha, sizeof(c->sha));
}

/* What was carried there, as it lies in the vault. */
static struct sha carried(const struct vault_machine *held, const struct carry_item *item)
{
	for (uint32_t i = 0; i < held->parts; i++)
		if (held->part[i].present && !strcmp(held->part[i].channel, item->channel))
			return held->part[i].sha;
	return item->expect;
}

static bool record_drift(
    struct service *s, struct vault_about *about, const struct sameness_result *same)
{
	about->text = same->text;
	about->detail = same->detail;
	return ledger_record(
	           s->ledger, EVENT_DRIFT, SAMENESS_WHO, "machine", about) != 0;
}

/* A channel is as it was carried again, while another one is not: what was told of it is over. */
static int tell_back(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct vault_machine *held)
{
	for (uint32_t i = 0; i < order->items; i++) {
		struct event_part part = {.has_before = true, .has_after = true};
		struct vault_about about = {.machine = order->machine,
		    .job = held->job,
		    .revision = held->revision,
		    .part = &part,
		    .parts = 1};
		struct sameness_result same;
		struct told t;
		bool good;

		memcpy(part.channel, order->item[i].channel, sizeof(part.channel));
		part.before = part.after = carried(held, &order->item[i]);
		t = what_was_told(s, order->machine, &part);
		if (m->differs[i] || !t.any || t.same)
			continue;
		if (sameness_of_parts(s, m, SAMENESS_CARRIED " again", &part, NULL, 1, &same))
			return -1;
		good = record_drift(s, &about, &same);
		free(same.detail);
		if (!good)
			return -1;
	}
	return 0;
}

int looked_all(struct service *s, struct service_machine *m, const struct carry_order *order)
{
	struct vault_machine held;
	struct vault_about about = {.machine = order->machine,
	    .text = "a look at the share found what was carried there again"};
	bool differs = false;

	for (uint32_t i = 0; i < order->items; i++)
		differs = differs || m->differs[i];
	if (vault_machine(s->vault, order->machine, &held) < 0)
		return -1;
	if (!held.drift)
		return 0;
	if (differs)
		return tell_back(s, m, order, &held);
	about.job = held.job;
	about.revision = held.revision;
	return ledger_record(s->ledger, EVENT_READ_BACK, "service", "machine", &about) ? 0 : -1;
}

int looked(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c)
{
	const struct carry_item *item = &order->item[c->item];
	struct event_part part = {
	    .has_before = true, .has_after = c->role != CARRY_ROLE_GONE, .after = c->sha};
	struct vault_about about = {.machine = order->machine, .part = &part, .parts = 1};
	struct sameness_result same;
	struct vault_machine held;
	bool good = true;

	memcpy(part.channel, item->channel, sizeof(part.channel));
	if (vault_machine(s->vault, order->machine, &held) < 0)
		return -1;
	if (held.content != VAULT_LOADED)
		return 0; /* in doubt since the carrier began: the next one knows */
	part.before = carried(&held, item);
	if (looked_has(order, c))
		part.after = part.before;
	if (sameness_of_parts(s, m, SAMENESS_CARRIED, &part, NULL, 1, &same))
		return -1;
	about.job = held.job;
	about.revision = held.revision;
	if (same.different && !(held.drift && is_told(s, order->machine, &part)))
		good = record_drift(s, &about, &same);
	m->differs[c->item] = same.different;
	free(same.detail);
	if (!good)
		return -1;
	/* Within the first look the others were not seen yet: its end is told by progress. */
	return m->away ? 0 : looked_all(s, m, order);
}
