#include "retry.h"

#include <stdio.h>
#include <stdlib.h>
#include "orders.h"
#include "outcome.h"

enum { PAUSE_FIRST_MS = 2000, PAUSE_MOST_MS = 60000 };

/* Each order has its own: two that fail by turns must not take each other's pause away. */
struct retry {
	uint64_t order;
	uint64_t until, at; /* loop time, ms */
	unsigned tries;
};

static struct retry *find(const struct service_machine *m, uint64_t order)
{
	for (size_t i = 0; i < m->retries; i++)
		if (m->retry[i].order == order)
			return &m->retry[i];
	return NULL;
}

/* Drop the entries of orders that have ended. */
static void sweep(struct service *s, struct service_machine *m)
{
	size_t n = 0;

	for (size_t i = 0; i < m->retries; i++) {
		struct vault_order o;
		int found = vault_order(s->vault, m->retry[i].order, &o);

		if (found < 0 ||
		    (found && (o.state == VAULT_QUEUED || o.state == VAULT_CARRYING)))
			m->retry[n++] = m->retry[i];
	}
	m->retries = n;
}

static struct retry *add(struct service *s, struct service_machine *m, uint64_t order)
{
	struct retry *grown;

	sweep(s, m);
	grown = reallocarray(m->retry, m->retries + 1, sizeof(*grown));
	if (!grown)
		return NULL;
	m->retry = grown;
	m->retry[m->retries] = (struct retry){
	    .order = order, .until = uv_now(s->loop) + (uint64_t)m->conf->retry_s * 1000};
	return &m->retry[m->retries++];
}

bool retry_wanted(struct service *s, struct service_machine *m, const struct carry_order *order,
    bool passes)
{
	uint64_t now = uv_now(s->loop), pause = PAUSE_FIRST_MS;
	struct retry *r;

	if (order->item[0].line.kind == LINE_SERIAL || !passes || m->cancelled == order->id)
		return false;
	r = find(m, order->id);
	if (!r)
		r = add(s, m, order->id);
	if (!r || now >= r->until)
		return false;
	for (unsigned i = 0; i < r->tries && pause < PAUSE_MOST_MS; i++)
		pause *= 2;
	r->tries++;
	r->at = now + (pause < PAUSE_MOST_MS ? pause : PAUSE_MOST_MS);
	return true;
}

/* A carrier could not be ended and hangs on the machine. */
static bool hangs(struct service *s, const struct service_machine *m)
{
	struct vault_machine state;

	return dispatch_busy(s->dispatch, m->conf->name) &&
	       vault_machine(s->vault, m->conf->name, &state) >= 0 && state.abandoned;
}

void retry_tell(struct service *s, const struct service_machine *m, uint64_t order, const char *why)
{
	const struct retry *r = find(m, order);
	char text[CARRY_TEXT_MAX + 64];
	json_t *line;

	if (!r)
		return;
	if (hangs(s, m))
		snprintf(text, sizeof(text), "%s; then it is tried again, if that is within %u s", why,
		    m->conf->retry_s);
	else
		snprintf(text, sizeof(text), "%s; it is tried again in %llu s", why,
		    (unsigned long long)(r->at - uv_now(s->loop) + 999) / 1000);
	line = json_pack("{s:I, s:s, s:s, s:s}", "order", (json_int_t)order, "machine",
	    m->conf->name, "phase", "again", "text", text);
	if (line)
		api_publish(s->api, order, line);
	json_decref(line);
}

bool retry_waits(const struct service *s, const struct service_machine *m, uint64_t order)
{
	const struct retry *r = find(m, order);

	return r && uv_now(s->loop) < r->at;
}

void retry_forget(struct service_machine *m)
{
	free(m->retry);
	m->retry = NULL;
	m->retries = 0;
}

/* The first order of a person that waits. */
static int take_waiting(void *ctx, const struct vault_order *o)
{
	struct vault_order *first = ctx;

	if (!first->id && o->state == VAULT_QUEUED && !orders_is_automatic(o))
		*first = *o;
	return 0;
}

static bool give_up(struct service *s, const struct service_machine *m, const struct vault_order *o)
{
	char text[256];
	struct vault_about about = {.machine = m->conf->name,
	    .job = o->job,
	    .revision = o->revision,
	    .order = o->id,
	    .outcome = "abandoned",
	    .text = text};

	snprintf(text, sizeof(text),
	    "a carrier still hangs on the machine's share or port after %u s (retry_s); nothing was "
	    "changed; when it answers, send again",
	    m->conf->retry_s);
	if (!ledger_record(s->ledger, EVENT_KEPT, "service", "service", &about))
		return false;
	outcome_end_follow(s, o->id, "kept", about.outcome, text);
	return true;
}

void retry_give_up(struct service *s, struct service_machine *m)
{
	struct vault_order first;

	if (!hangs(s, m)) {
		m->hangs_since = 0;
		return;
	}
	if (!m->hangs_since)
		m->hangs_since = uv_now(s->loop);
	if (uv_now(s->loop) - m->hangs_since < (uint64_t)m->conf->retry_s * 1000)
		return;
	do {
		first.id = 0;
		if (vault_orders(s->vault, m->conf->name, true, take_waiting, &first) < 0)
			return;
	} while (first.id && give_up(s, m, &first));
}
