#include "orders.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "drip.h"
#include "listen.h"
#include "manifest.h"
#include "outcome.h"
#include "recover.h"
#include "retry.h"
#include "revision.h"
#include "stand.h"
#include "written.h"

enum { RETRY_FIRST_MS = 5000, RETRY_MOST_MS = 600000 };

/* Who stands behind orders that the service makes by itself. */
#define BY_ITSELF "service (on_release = carry)"

/* A revision that is later than the one that was just released. */
struct newer {
	const char *area, *than;
	char revision[YOKE_NAME_MAX + 1];
};

static int take_newer(void *ctx, const struct vault_pair *p)
{
	struct newer *n = ctx;

	if ((!*p->area || !strcmp(p->area, n->area)) &&
	    revision_later(p->revision, *n->revision ? n->revision : n->than))
		memcpy(n->revision, p->revision, sizeof(n->revision));
	return 0;
}

/* An older revision that comes late, as from somebody's old stick, is released, but whether it
 * shall go over the newer one is not for us to decide. The event's seq, or 0. */
static uint64_t leave_older(
    struct service *s, const struct vault_about *about, const struct newer *newer)
{
	char text[4 * YOKE_NAME_MAX + 200];
	struct vault_about left = *about;

	snprintf(text, sizeof(text),
	    "job %s revision %s is not carried by itself, since there is a revision %s: to carry "
	    "it all the same, `yoke send %s@%s %s`",
	    about->job, about->revision, newer->revision, about->job, about->revision,
	    about->machine);
	left.outcome = "older";
	left.text = text;
	left.detail = NULL;
	return ledger_record(s->ledger, EVENT_REFUSED, BY_ITSELF, "service", &left);
}

uint64_t orders_queue_released(
    struct service *s, struct service_machine *m, const struct vault_about *about)
{
	struct vault_about order = {
	    .machine = m->conf->name,
	    .job = about->job,
	    .revision = about->revision,
	    .outcome = "send",
	    .text = "released for this machine",
	    .part = about->part,
	    .parts = about->parts,
	};
	struct newer newer = {.area = m->conf->name, .than = about->revision};

	if (vault_pairs(s->vault, about->job, take_newer, &newer) < 0)
		return 0;
	if (*newer.revision)
		return leave_older(s, about, &newer);
	return ledger_record(s->ledger, EVENT_QUEUED, BY_ITSELF, "service", &order);
}

uint64_t orders_queue(struct service *s, struct service_machine *m, const char *who,
    const char *from, const char *act, const char *job, const char *revision,
    const struct event_part *part, uint32_t parts)
{
	struct vault_about order = {
	    .machine = m->conf->name,
	    .job = job,
	    .revision = revision,
	    .outcome = act,
	    .part = part,
	    .parts = parts,
	};
	uint64_t id = ledger_record(s->ledger, EVENT_QUEUED, who, from, &order);
	struct vault_order waits;

	if (id && m->carrying.id && vault_order(s->vault, m->carrying.id, &waits) == 1 &&
	    orders_is_automatic(&waits))
		orders_halt(
		    s, m, "somebody's own order came before anything was changed; this one waits");
	return id;
}

struct next {
	const struct service *s;
	const struct service_machine *m;
	bool automatic_too; /* orders that the service made by itself may run */
	bool sends_too;     /* orders that put something on the machine may run */
	bool behind;        /* one of those waits for its next try: what came after it does so too */
	struct vault_order order;
	bool found;
};

static bool replaces(const struct vault_order *o)
{
	return strcmp(o->act, "fetch") != 0 && strcmp(o->act, "dry-run") != 0;
}

/*
 * What a person asks for, or puts first, goes before what the service does by itself. What was sent last is
 * carried last: else an order that waits for its share would go over a later one, long after that was done.
 */
static int take_next(void *ctx, const struct vault_order *o)
{
	struct next *n = ctx;
	bool automatic = orders_is_automatic(o) && o->rank == 0;

	if (o->state == VAULT_QUEUED && retry_waits(n->s, n->m, o->id)) {
		n->behind = n->behind || replaces(o);
		return 0;
	}
	if (o->state != VAULT_QUEUED || (n->behind && replaces(o)) ||
	    (n->found && (automatic || n->order.rank < 0 || !orders_is_automatic(&n->order))))
		return 0;
	if (automatic && !n->automatic_too)
		return 0;
	if (!n->sends_too && strcmp(o->act, "fetch"))
		return 0;
	n->order = *o;
	n->found = true;
	return 0;
}

/* The order cannot be begun: say so, and why. passes: it may be possible later, and then one of the
 * service's own goes back into the queue. The machine was not touched. */
static void fail_order(struct service *s, struct service_machine *m, const struct vault_order *o,
    bool passes, const char *why)
{
	bool again = passes && orders_is_automatic(o);
	struct vault_about about = {
	    .machine = o->machine,
	    .job = o->job,
	    .revision = o->revision,
	    .order = o->id,
	    .outcome = again ? "again" : "order",
	    .text = why,
	};

	if (!ledger_record(s->ledger, EVENT_KEPT, "service", "service", &about)) {
		recover_later(s, m, o->id, true);
		return;
	}
	if (again)
		orders_try_later(s, m);
	else
		outcome_end_follow(s, o->id, "kept", "order", why);
}

static bool has_part(const struct vault_pair *pair, const struct vault_part *part)
{
	for (uint32_t i = 0; i < pair->parts; i++)
		if (!strcmp(pair->part[i].channel, part->channel))
			return !memcmp(&pair->part[i].sha, &part->sha, sizeof(part->sha));
	return false;
}

/* The second person that the machine asks for by now is there: 1, 0 and why, -1. */
static int has_second(struct service *s, const char *machine, const struct vault_pair *pair,
    char *why, size_t n)
{
	const struct conf_machine *m = conf_find(s->conf, machine);
	struct stand st;

	if (!m || !m->profile.two_person)
		return 1;
	if (stand_read(s, pair, &st))
		return -1;
	snprintf(why, n, "job %s revision %s was not accepted by a second person: `yoke accept %s@%s`",
	    pair->job, pair->revision, pair->job, pair->revision);
	return st.second;
}

int orders_still_released(struct service *s, const struct vault_order *o, char *why, size_t n)
{
	const char *areas[2] = {o->machine, ""};
	struct vault_withdrawal w;
	struct vault_pair pair;
	int gone = 0;

	if (strcmp(o->act, "fetch") != 0)
		gone = vault_withdrawn(
		    s->vault, o->machine, o->job, o->revision, o->part, o->parts, &w);
	if (gone) {
		snprintf(why, n, "job %s revision %s was withdrawn before its turn came, by %s: %s",
		    o->job, o->revision, w.who, w.text);
		return gone < 0 ? -1 : 0;
	}
	if (strcmp(o->act, "send") && !drip_is(o))
		return 1;
	snprintf(why, n, "job %s revision %s is no longer there", o->job, o->revision);
	for (int i = 0; i < 2; i++) {
		int found = vault_pair(s->vault, areas[i], o->job, o->revision, &pair);
		bool same = found > 0 && (drip_is(o) || pair.parts == o->parts);

		if (found < 0)
			return -1;
		for (uint32_t k = 0; same && k < o->parts; k++)
			same = has_part(&pair, &o->part[k]);
		if (same && pair.state == VAULT_RELEASED)
			return has_second(s, o->machine, &pair, why, n);
		if (found)
			snprintf(why, n, "job %s revision %s was %s before its turn came: %s",
			    o->job, o->revision,
			    pair.state != VAULT_RELEASED ? vault_pair_state_name(pair.state)
			                                 : "released with other programs",
			    *pair.text ? pair.text : "send it again");
	}
	return 0;
}

/* Whether what was right when the order was queued still is: an hour, or another configuration, may
 * lie between. As orders_still_released. */
static int still_right(
    struct service *s, const struct service_machine *m, const struct vault_order *o, char *why,
    size_t n)
{
	int may = orders_still_released(s, o, why, n);
	bool meets;

	if (may <= 0 || !drip_is(o))
		return may;
	if (!o->parts || !o->part[0].present) {
		snprintf(why, n, "the order names no program");
		return 0;
	}
	return drip_may(s, m, o->part[0].channel, &o->part[0].sha, &meets, why, n);
}

static void start(struct service *s, struct service_machine *m, const struct vault_order *o)
{
	struct vault_about about = {.machine = o->machine,
	    .job = o->job,
	    .revision = o->revision,
	    .order = o->id,
	    .outcome = o->act};
	int fd[YOKE_CHANNELS_MAX] = {-1, -1, -1, -1};
	struct carry_order *order = calloc(1, sizeof(*order));
	char why[1024], *detail = NULL;
	int failed, may = still_right(s, m, o, why, sizeof(why));

	if (!order || may < 0)
		goto out;
	if (!may || manifest_order(s, m, o, order, why, sizeof(why))) {
		fail_order(s, m, o, false, why);
		goto out;
	}
	if (manifest_programs(s, order, fd, why, sizeof(why))) {
		fail_order(s, m, o, true, why);
		goto out;
	}
	outcome_reset(s, m, o, order);
	about.detail = detail = written_begin(m, order);
	if (!ledger_record(s->ledger, EVENT_CARRYING, o->who, "service", &about)) {
		m->carrying.id = 0;
		goto out;
	}
	listen_pass_on(s, m, order);
	m->carrying = *order;
	failed = dispatch_start(s->dispatch, order, carry_brings(order->act) ? fd : NULL);
	if (failed) {
		m->carrying.id = 0;
		snprintf(
		    why, sizeof(why), "the carrier could not be started: %s", strerror(-failed));
		fail_order(s, m, o, true, why);
	}
out:
	for (size_t i = 0; i < YOKE_CHANNELS_MAX; i++)
		if (fd[i] >= 0)
			close(fd[i]);
	free(detail);
	free(order);
}

/* No carrier hangs on the machine any more. */
static bool set_free(struct service *s, const char *machine)
{
	struct vault_about about = {.machine = machine, .text = "the abandoned carrier is gone"};

	return ledger_record(s->ledger, EVENT_ONLINE, "service", "carrier", &about) != 0;
}

static void kick_machine(struct service *s, struct service_machine *m)
{
	struct vault_machine state;
	struct next next = {.s = s, .m = m};

	if (m->carrying.id)
		return;
	retry_give_up(s, m);
	if (dispatch_busy(s->dispatch, m->conf->name) && !m->listening)
		return;
	if (vault_machine(s->vault, m->conf->name, &state) < 0)
		return;
	if (state.abandoned && !m->listening && !set_free(s, m->conf->name))
		return;
	if (m->unsettled) {
		if (m->listening)
			listen_end(s, m);
		else
			recover_unsettled(s, m);
		return;
	}
	/* A split machine is put right by a person: by send, restore or unlock, never by an order
	 * of ours. */
	next.automatic_too = state.content != VAULT_SPLIT && state.content != VAULT_UNKNOWN &&
	                     uv_now(s->loop) >= m->not_before;
	next.sends_too = !state.locked;
	if (vault_orders(s->vault, m->conf->name, true, take_next, &next) < 0)
		return;
	if (!next.found)
		listen_begin(s, m);
	else if (m->listening)
		listen_end(s, m);
	else
		start(s, m, &next.order);
}

void orders_kick(struct service *s)
{
	if (s->stopping)
		return;
	for (size_t i = 0; i < s->machines; i++)
		kick_machine(s, &s->machine[i]);
}

void orders_try_later(struct service *s, struct service_machine *m)
{
	uint64_t pause = RETRY_FIRST_MS;

	for (unsigned i = 0; i < m->tries && pause < RETRY_MOST_MS; i++)
		pause *= 2;
	if (pause > RETRY_MOST_MS)
		pause = RETRY_MOST_MS;
	m->tries++;
	m->not_before = uv_now(s->loop) + pause;
}

bool orders_is_automatic(const struct vault_order *o)
{
	return !strcmp(o->who, BY_ITSELF);
}

int orders_cancel(struct service *s, uint64_t id, const char *who)
{
	struct vault_order o;
	struct service_machine *m;
	int found = vault_order(s->vault, id, &o);
	struct vault_about about = {.order = id, .outcome = "cancelled"};

	if (found <= 0)
		return found < 0 ? -EIO : -ENOENT;
	about.machine = o.machine;
	about.job = o.job;
	about.revision = o.revision;
	if (o.state == VAULT_QUEUED) {
		about.text = "cancelled before it began";
		if (!ledger_record(s->ledger, EVENT_CANCELLED, who, "socket", &about))
			return -EIO;
		outcome_end_follow(s, id, "cancelled", "cancelled", about.text);
		return 0;
	}
	m = service_machine_find(s, o.machine);
	if (o.state != VAULT_CARRYING || !m || (m->carrying.id != id && m->unsettled != id))
		return -EALREADY;
	if (m->carrying.id == id && dispatch_cancel(s->dispatch, o.machine))
		return -EALREADY;
	m->cancelled = id;
	snprintf(m->cancelled_by, sizeof(m->cancelled_by), "%s", who);
	m->halted = NULL;
	if (m->unsettled == id)
		recover_order(s, m, &o);
	return 0;
}

void orders_halt(struct service *s, struct service_machine *m, const char *why)
{
	struct vault_order o;

	if (!m->carrying.id || m->granted || m->cancelled == m->carrying.id ||
	    !carry_brings(m->carrying.act) || vault_order(s->vault, m->carrying.id, &o) != 1)
		return;
	m->halted = why;
	dispatch_cancel(s->dispatch, m->conf->name);
}
