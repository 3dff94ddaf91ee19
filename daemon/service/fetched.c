#include "ending.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "more.h"
#include "outcome.h"
#include "retry.h"
#include "sameness.h"
#include "written.h"

/* What came, and what should be there and is not; and of which of it more.h has said already that
 * it is something else. */
static uint32_t parts_fetched(struct ending *e, const struct more_found found[YOKE_CHANNELS_MAX],
    const char *otherwise[YOKE_CHANNELS_MAX])
{
	const struct service_machine *m = e->m;
	uint32_t n = 0;

	for (uint32_t i = 0; i < e->order->items; i++) {
		bool missing = e->out->channel[i].held == CARRY_HELD_ABSENT && m->has_before[i];

		if (!m->has_copy[i] && !missing)
			continue;
		e->part[n] = (struct event_part){.has_before = m->has_before[i],
		    .before = m->before[i],
		    .has_after = m->has_copy[i],
		    .after = m->copy[i]};
		memcpy(e->part[n].channel, e->order->item[i].channel, sizeof(e->part[0].channel));
		otherwise[n++] = found[i].kind == MORE_ABSENT || found[i].kind == MORE_UNREAD
		                     ? found[i].text
		                     : NULL;
	}
	return n;
}

/* Behind the sentence: what is missing of a channel, or why it has no copy. */
static void add_found(struct ending *e, const struct more_found found[YOKE_CHANNELS_MAX])
{
	for (uint32_t i = 0; i < e->order->items; i++) {
		size_t n = strlen(e->text);

		if ((found[i].kind == MORE_CHOSEN || found[i].kind == MORE_TWICE) && *found[i].text)
			snprintf(
			    e->text + n, sizeof(e->text) - n, "%s%s", n ? "; " : "", found[i].text);
	}
}

/* Not all channels came. What did come counts all the same: a change must not stay untold. */
static int fetch_failed(struct ending *e, const struct sameness_result *same)
{
	struct vault_about drift = e->about;

	bool again = !same->different && !e->about.parts &&
	             retry_wanted(e->s, e->m, e->order, ending_may_pass(e));

	drift.text = same->text;
	drift.detail = same->detail;
	if (again)
		e->about.outcome = "again";
	if (ledger_begin(e->s->ledger))
		return -1;
	more_record(e->s, e->m);
	if (same->different)
		ledger_record(e->s->ledger, EVENT_DRIFT, SAMENESS_WHO, "carrier", &drift);
	ledger_record(e->s->ledger, EVENT_KEPT, "service", "carrier", &e->about);
	if (ledger_commit(e->s->ledger))
		return -1;
	if (again)
		retry_tell(e->s, e->m, e->order->id, e->about.text);
	else
		outcome_end_follow(e->s, e->order->id, "failed", e->error, e->about.text);
	return 0;
}

static int fetch_done(struct ending *e, const struct sameness_result *same)
{
	struct vault_machine now;

	e->about.detail = same->detail;
	if (ledger_begin(e->s->ledger))
		return -1;
	more_record(e->s, e->m);
	ledger_record(e->s->ledger, EVENT_FETCHED, "service", "carrier", &e->about);
	if (same->different)
		ledger_record(e->s->ledger, EVENT_DRIFT, SAMENESS_WHO, "carrier", &e->about);
	else if (same->compared == e->m->conf->profile.channels)
		ledger_record(e->s->ledger, EVENT_READ_BACK, "service", "carrier", &e->about);
	if (ledger_commit(e->s->ledger))
		return -1;
	if (vault_machine(e->s->vault, e->order->machine, &now) == 1 &&
	    (now.content == VAULT_SPLIT || now.content == VAULT_UNKNOWN)) {
		size_t n = strlen(e->text);

		snprintf(e->text + n, sizeof(e->text) - n,
		    "; the machine stays %s until a pair is sent, or the last good one restored",
		    vault_content_name(now.content));
	}
	outcome_end_follow(
	    e->s, e->order->id, same->different ? "drift" : "fetched", "none", e->text);
	return 0;
}

/* The sentence of a fetch, and whether it failed. */
static bool tell_fetch(struct ending *e, const struct more_found found[YOKE_CHANNELS_MAX],
    const struct sameness_result *same)
{
	const char *said = same->text;
	bool twice = false;

	for (uint32_t i = 0; i < e->order->items; i++)
		twice = twice || found[i].kind == MORE_TWICE;
	if (e->out->error != CARRY_ERROR_NONE) {
		said = e->out->text;
	} else if (twice) {
		e->about.outcome = e->error = "twice";
		said = "";
	} else if (e->about.parts == 0) {
		e->about.outcome = "nothing";
		said = "no program is there under these names";
	}
	snprintf(e->text, sizeof(e->text), "%s", said);
	e->about.text = e->text;
	add_found(e, found);
	ending_more(e);
	return said != same->text;
}

int ending_fetch(struct ending *e)
{
	struct more_found found[YOKE_CHANNELS_MAX];
	const char *otherwise[YOKE_CHANNELS_MAX];
	struct sameness_result same;
	int result;

	more_choose(e->s, e->m, found);
	e->about.parts = parts_fetched(e, found, otherwise);
	if (sameness_of_parts(e->s, e->m, SAMENESS_CARRIED, e->part, otherwise,
	        e->about.parts, &same))
		return -1;
	same.detail = written_tell(same.detail, e->m, e->order);
	result = tell_fetch(e, found, &same) ? fetch_failed(e, &same) : fetch_done(e, &same);
	free(same.detail);
	return result;
}
