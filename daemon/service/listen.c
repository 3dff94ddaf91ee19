#include "listen.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>
#include "called.h"
#include "later.h"
#include "looked.h"
#include "orders.h"
#include "outcome.h"

enum {
	PAUSE_FIRST_MS = 1000, /* after a carrier that ended by itself */
	PAUSE_MOST_MS = 60000,
	ASKED_MS = 60000, /* a DC1 belongs to the order that was called for, so long */
	LOOK_ANEW_MS = 10000, /* after something that could not be recorded */
};

/* An order to hear what is punched on the machine's serial lines. */
static void fill_lines(const struct conf_machine *conf, struct carry_order *order)
{
	order->act = CARRY_LISTEN;
	memcpy(order->machine, conf->name, sizeof(order->machine));
	conf_machine_words(conf, order);
	for (uint32_t i = 0; i < conf->profile.channels; i++) {
		struct carry_item *item = &order->item[order->items++];

		memcpy(item->channel, conf->profile.channel[i].name, sizeof(item->channel));
		item->line = conf->line[i];
	}
}

/* What there is to hear or see between orders, if anything. */
static bool fill(struct service *s, const struct service_machine *m, struct carry_order *order)
{
	if (m->conf->call.listen)
		fill_lines(m->conf, order);
	else if (!m->conf->look_s || !looked_order(s, m, order))
		return false;
	return true;
}

void listen_begin(struct service *s, struct service_machine *m)
{
	struct carry_order *order;

	if (m->listening || uv_now(s->loop) < m->listen_at ||
	    !(m->conf->call.listen || m->conf->look_s))
		return;
	order = calloc(1, sizeof(*order));
	if (order && fill(s, m, order) && !dispatch_start(s->dispatch, order, NULL)) {
		m->listening = m->away = true;
		m->listens_since = 0;
		memset(m->differs, 0, sizeof(m->differs));
	}
	free(order);
}

void listen_end(struct service *s, struct service_machine *m)
{
	if (m->listening)
		dispatch_cancel(s->dispatch, m->conf->name);
}

void listen_compare_anew(struct service *s, struct service_machine *m)
{
	if (m->conf->line[0].kind != LINE_SERIAL)
		listen_end(s, m);
}

/* A share that cannot be looked at is told once, and once more when it can. */
static void tell_reach(struct service *s, const struct service_machine *m)
{
	struct vault_about about = {.machine = m->conf->name};
	struct vault_machine held;

	if (vault_machine(s->vault, m->conf->name, &held) < 0 || held.offline == m->away)
		return;
	about.text = m->away ? "its share cannot be looked at: it is not there, has no marker, or has "
	                       "something that cannot be read under a program's name; yoked's log "
	                       "says which"
	                     : "its share can be looked at again";
	ledger_record(
	    s->ledger, m->away ? EVENT_OFFLINE : EVENT_ONLINE, "service", "carrier", &about);
}

void listen_progress(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_progress *p)
{
	m->away = p->phase != CARRY_PHASE_LISTEN;
	if (!m->away && !m->listens_since)
		m->listens_since = uv_now(s->loop);
	if (order->item[0].line.kind == LINE_SERIAL)
		return;
	tell_reach(s, m);
	if (!m->away)
		looked_all(s, m, order);
}

/* What came unasked is kept like everything that comes from a machine, and told. False when it could
 * not be. */
static bool tell_kept(struct service *s, const struct service_machine *m, const char *channel,
    const struct carry_content *c)
{
	bool raw = c->role == CARRY_ROLE_RAW;
	char text[CARRY_NOTE_MAX + 200];
	struct event_part part = {.has_after = true, .after = c->sha};
	struct vault_about about = {.machine = m->conf->name,
	    .part = &part,
	    .parts = 1,
	    .outcome = raw ? "raw" : "found",
	    .text = text};

	if (raw)
		snprintf(text, sizeof(text), "came without an order and is no program: %s", c->note);
	else
		snprintf(text, sizeof(text),
		    "punched without an order, over the line of %s: kept, and compared with nothing; "
		    "`yoke fetch %s` compares",
		    channel, m->conf->name);
	snprintf(part.channel, sizeof(part.channel), "%s", channel);
	return ledger_record(s->ledger, EVENT_ARRIVED, "service", "line", &about) != 0;
}

/* What the text asks for, where it is a call. */
static enum called hear_call(struct service *s, struct service_machine *m, const char *channel,
    const struct carry_content *c, int fd, bool late)
{
	enum called came;
	uint64_t order = 0;
	void *bytes;

	if (c->role != CARRY_ROLE_UNASKED || !c->size)
		return CALLED_NO;
	bytes = mmap(NULL, c->size, PROT_READ, MAP_PRIVATE, fd, 0);
	if (bytes == MAP_FAILED)
		return CALLED_AGAIN;
	came = called(s, m, bytes, c->size, late, &order);
	munmap(bytes, c->size);
	if (came == CALLED_ORDER) {
		m->call.order = order;
		m->call.at = uv_now(s->loop);
		m->call.channel = profile_channel_find(&m->conf->profile, channel, strlen(channel));
	}
	return came;
}

bool listen_take(struct service *s, struct service_machine *m, const char *channel,
    const struct carry_content *c, int fd, bool late)
{
	enum called came;

	if (outcome_keep(s, c, false, fd))
		return false;
	came = hear_call(s, m, channel, c, fd, late);
	if (came == CALLED_NO || came == CALLED_UNREAD)
		return tell_kept(s, m, channel, c);
	return came != CALLED_AGAIN;
}

/* What lies on the share stays there: a carrier that begins anew finds it anew. */
static void look_anew(struct service *s, struct service_machine *m)
{
	m->listen_at = uv_now(s->loop) + LOOK_ANEW_MS;
	listen_end(s, m);
}

void listen_content(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_content *c, int fd)
{
	bool share = order->item[0].line.kind != LINE_SERIAL;

	if (share) {
		m->differs[c->item] = true; /* until it was compared */
		if ((c->role != CARRY_ROLE_GONE && outcome_keep(s, c, looked_has(order, c), fd)) || looked(s, m, order, c)) {
			fprintf(stderr, "yoked: machine %s: what its share holds could not be recorded: %s\n",
			    order->machine, vault_error(s->vault));
			look_anew(s, m);
		}
	} else if (!listen_take(s, m, order->item[c->item].channel, c, fd, false)) {
		fprintf(stderr, "yoked: machine %s: what it punched could not be recorded: %s\n",
		    order->machine, vault_error(s->vault));
		later_add(s, m, order->item[c->item].channel, c, fd);
		return;
	}
	close(fd);
}

/* One that ends again and again soon after it began to listen waits longer each time. */
static void try_later(struct service *s, struct service_machine *m)
{
	uint64_t pause = PAUSE_FIRST_MS;

	if (m->listens_since && uv_now(s->loop) - m->listens_since >= PAUSE_MOST_MS)
		m->listen_tries = 0;
	for (unsigned i = 0; i < m->listen_tries && pause < PAUSE_MOST_MS; i++)
		pause *= 2;
	m->listen_tries++;
	m->listen_at = uv_now(s->loop) + (pause < PAUSE_MOST_MS ? pause : PAUSE_MOST_MS);
}

void listen_outcome(struct service *s, struct service_machine *m, const struct carry_order *order,
    const struct carry_outcome *out)
{
	struct vault_about about = {.machine = order->machine, .text = out->text};

	m->listening = false;
	for (uint32_t i = 0; i < order->items; i++)
		m->asked[i] = out->channel[i].asked;
	if (out->error == CARRY_ERROR_ABANDONED)
		ledger_record(s->ledger, EVENT_ABANDONED, "service", "carrier", &about);
	if (out->error == CARRY_ERROR_CANCELLED) {
		m->listen_tries = 0;
		return;
	}
	fprintf(stderr, "yoked: machine %s is not listened to: %s\n", order->machine, out->text);
	try_later(s, m);
}

void listen_pass_on(struct service *s, struct service_machine *m, struct carry_order *order)
{
	bool fresh = m->call.order == order->id && uv_now(s->loop) - m->call.at < ASKED_MS;

	for (uint32_t i = 0; i < order->items; i++) {
		int k = profile_channel_find(&m->conf->profile, order->item[i].channel,
		    strlen(order->item[i].channel));

		order->item[i].asked = fresh && k >= 0 && k == m->call.channel && m->asked[k];
	}
	memset(m->asked, 0, sizeof(m->asked));
	m->call.order = 0;
}
