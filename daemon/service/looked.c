#include "looked.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "manifest.h"
#include "sameness.h"

/* The newest drift of a machine, and whether it already tells this. */
struct told {
	const struct event_part *part;
	bool same;
};

static int take_told(void *ctx, const struct event *e, const struct sha *hash)
{
	struct told *t = ctx;

	for (uint32_t i = 0; i < e->parts; i++)
		if (!strcmp(e->part[i].channel, t->part->channel))
			t->same = e->part[i].has_after == t->part->has_after &&
			          (!t->part->has_after ||
			              !memcmp(&e->part[i].after, &t->part->after, sizeof(struct sha)));
	return 0;
}

/* After a restart a carrier finds anew what was told before. */
static bool is_told(struct service *s, const char *machine, const struct event_part *part)
{
	struct vault_filter newest = {
	    .kind = event_name(EVENT_DRIFT), .machine = machine, .limit = 1};
	struct told t = {part, false};

	return vault_events(s->vault, &newest, take_told, &t) >= 0 && t.same;
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

static void record_drift(
    struct service *s, struct vault_about *about, const struct sameness_result *same)
{
	about->text = same->text;
	about->detail = same->detail;
	ledger_record(s->ledger, EVENT_DRIFT, "not known: somebody at the machine", "machine", about);
}

void looked(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c)
{
	const struct carry_item *item = &order->item[c->item];
	struct event_part part = {.has_before = true,
	    .before = item->expect,
	    .has_after = c->role != CARRY_ROLE_GONE,
	    .after = c->sha};
	struct vault_about about = {.machine = order->machine, .part = &part, .parts = 1};
	struct sameness_result same;
	struct vault_machine held;

	memcpy(part.channel, item->channel, sizeof(part.channel));
	if (vault_machine(s->vault, order->machine, &held) < 0 ||
	    sameness_of_parts(s, &m->conf->profile, SAMENESS_CARRIED, &part, NULL, 1, &same))
		return;
	about.job = held.job;
	about.revision = held.revision;
	m->differs[c->item] = same.different;
	if (same.different && !(held.drift && is_told(s, order->machine, &part))) {
		record_drift(s, &about, &same);
	} else if (!same.different && held.drift) {
		for (uint32_t i = 0; i < order->items; i++)
			if (m->differs[i])
				goto out;
		about.text = "a look at the share found what was carried there again";
		ledger_record(s->ledger, EVENT_READ_BACK, "service", "machine", &about);
	}
out:
	free(same.detail);
}
