#include "recover.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "drip.h"
#include "manifest.h"
#include "outcome.h"
#include "written.h"

enum { LOOK_FIRST_MS = 500, LOOK_MOST_MS = 60000 };

void recover_later(struct service *s, struct service_machine *m, uint64_t order, bool pause)
{
	uint64_t ms = LOOK_FIRST_MS;

	for (unsigned i = 0; i < m->tries && ms < LOOK_MOST_MS; i++)
		ms *= 2;
	m->tries = pause ? m->tries + 1 : 0;
	m->not_before = pause ? uv_now(s->loop) + ms : 0;
	m->unsettled = order;
}

/* The machine was not touched: back into the queue, unless nobody wants it any more. */
static int put_back(struct service *s, struct service_machine *m, struct vault_about *about)
{
	bool unwanted = m && m->cancelled == about->order;

	about->outcome = unwanted ? "cancelled" : "again";
	about->text = unwanted
	                  ? "cancelled before anything on the machine was changed"
	                  : "the order was cut short before anything on the machine was changed; "
	                    "it is queued again";
	if (!ledger_record(s->ledger, unwanted ? EVENT_CANCELLED : EVENT_KEPT,
	        unwanted && *m->cancelled_by ? m->cancelled_by : "service", "service", about))
		return -1;
	if (unwanted)
		outcome_end_follow(s, about->order, "cancelled", "cancelled", about->text);
	return 0;
}

/* Start a carrier that looks. 0, -1. */
static int look(struct service *s, struct service_machine *m, const struct vault_order *o)
{
	struct carry_order *order = calloc(1, sizeof(*order));
	char why[512];
	int result = -1;

	if (!order || manifest_order(s, m, o, order, why, sizeof(why)))
		goto out;
	order->act = CARRY_INSPECT;
	if (!written_begun(s, o, order))
		goto out; /* the folder that it was in is another's, or nobody's */
	outcome_reset(s, m, o, order);
	result = dispatch_start(s->dispatch, order, NULL) ? -1 : 0;
	if (result)
		m->carrying.id = 0;
out:
	free(order);
	return result;
}

static int say_unknown(struct service *s, const struct vault_order *o, struct vault_about *about)
{
	char text[512];

	snprintf(text, sizeof(text),
	    "this order was cut short at step '%s': what the machine holds is not known; do not "
	    "run it; send a pair, or restore the last good one",
	    o->step);
	about->outcome = "carrier";
	about->text = text;
	if (!ledger_record(s->ledger, EVENT_UNKNOWN, "service", "service", about))
		return -1;
	outcome_end_follow(s, o->id, "unknown", "carrier", text);
	return 0;
}

/* The control had begun to execute: nobody begins that again but people at the machine. */
static int say_stopped(struct service *s, const struct vault_order *o, struct vault_about *about)
{
	char text[1024], stopped[512];

	drip_stopped(o->parts ? o->part[0].channel : "", stopped, sizeof(stopped));
	snprintf(text, sizeof(text),
	    "this order was cut short while the control executed, at a block that is not known "
	    "here; %s",
	    stopped);
	about->outcome = "carrier";
	about->text = text;
	if (!ledger_record(s->ledger, EVENT_KEPT, "service", "service", about))
		return -1;
	outcome_end_follow(s, o->id, "kept", "carrier", text);
	return 0;
}

/* A share that the machine has now says nothing of what went down its serial line before. */
static bool can_look(const struct service_machine *m, const struct vault_order *o)
{
	return m && line_is_share(m->conf->line[0].kind) && m->cancelled != o->id &&
	       strcmp(o->step, "transmit");
}

void recover_order(struct service *s, struct service_machine *m, const struct vault_order *o)
{
	struct vault_about about = {
	    .machine = o->machine, .job = o->job, .revision = o->revision, .order = o->id};
	bool untouched = !strcmp(o->act, "fetch") || !*o->step, begun = drip_begun(o);
	int failed;

	if (m)
		m->unsettled = 0;
	if (!untouched && !begun && can_look(m, o) && !look(s, m, o))
		return;
	failed = untouched ? put_back(s, m, &about)
	         : begun   ? say_stopped(s, o, &about)
	                   : say_unknown(s, o, &about);
	if (failed && m)
		recover_later(s, m, o->id, true);
}

void recover_unsettled(struct service *s, struct service_machine *m)
{
	struct vault_order o;

	if (uv_now(s->loop) < m->not_before || vault_order(s->vault, m->unsettled, &o) != 1)
		return;
	if (o.state == VAULT_CARRYING) {
		recover_order(s, m, &o);
		return;
	}
	outcome_end_follow(s, o.id, vault_order_state_name(o.state), "none", o.text);
	m->unsettled = 0;
}

struct open_orders {
	struct vault_order *v;
	size_t n, room;
};

static int take_carrying(void *ctx, const struct vault_order *o)
{
	struct open_orders *all = ctx;

	if (o->state != VAULT_CARRYING)
		return 0;
	if (all->n == all->room) {
		size_t room = all->room ? 2 * all->room : 16;
		struct vault_order *v = reallocarray(all->v, room, sizeof(*v));

		if (!v)
			return -1;
		all->v = v;
		all->room = room;
	}
	all->v[all->n++] = *o;
	return 0;
}

/* Nobody waits any more for a carrier that an earlier service could not end; what it holds, such as
 * a lock on the share, the next one meets. */
static int free_abandoned(struct service *s)
{
	for (size_t i = 0; i < s->machines; i++) {
		struct vault_about about = {.machine = s->machine[i].conf->name,
		    .text = "the service was started anew; the machine takes orders again"};
		struct vault_machine held;

		if (vault_machine(s->vault, about.machine, &held) < 0)
			return -1;
		if (held.abandoned &&
		    !ledger_record(s->ledger, EVENT_ONLINE, "service", "service", &about))
			return -1;
	}
	return 0;
}

int recover_start(struct service *s)
{
	struct open_orders all = {0};
	int result = -1;

	if (free_abandoned(s) || vault_orders(s->vault, NULL, true, take_carrying, &all))
		goto out;
	for (size_t i = 0; i < all.n; i++) {
		const struct vault_order *o = &all.v[i];

		fprintf(stderr,
		    "yoked: order %llu (%s %s revision %s, machine %s) was under way when the "
		    "service ended\n",
		    (unsigned long long)o->id, o->act, o->job, o->revision, o->machine);
		recover_order(s, service_machine_find(s, o->machine), o);
	}
	result = 0;
out:
	free(all.v);
	return result;
}
