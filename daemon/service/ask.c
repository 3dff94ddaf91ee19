#include "ask.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "judge.h"
#include "orders.h"
#include "show_json.h"

#define CAUTION                                                                                    \
	"Prove out every new, changed or restored pair: single block, rapid override low, guard "  \
	"closed, hand at feed "                                                                    \
	"hold. Check work offsets and tool offsets of both channels. Follow the machine "          \
	"builder's manual, the shop's "                                                            \
	"rules and local regulations; trained and authorised persons only."

/* What was asked, for whom and about which machine. */
struct request {
	struct service *s;
	const struct api_call *call;
	struct api_reply *reply;
	struct service_machine *m;
	struct vault_machine held;
	const char *act;
	const char *job, *revision;
};

static void refuse(struct request *r, unsigned status, const char *name, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static void refuse(struct request *r, unsigned status, const char *name, const char *format, ...)
{
	char text[1024];
	struct vault_about about = {
	    .outcome = name, .text = text, .job = r->job, .revision = r->revision};
	char whole[1100];
	va_list ap;

	va_start(ap, format);
	vsnprintf(text, sizeof(text), format, ap);
	va_end(ap);
	about.machine = r->m ? r->m->conf->name : "";
	snprintf(whole, sizeof(whole), "%s: %s", r->act, text);
	about.text = whole;
	ledger_record(r->s->ledger, EVENT_REFUSED, r->call->who->name, r->call->from, &about);
	api_reply_error(r->reply, status, name, "%s", text);
}

static void not_recorded(struct request *r)
{
	api_reply_error(r->reply, 500, "vault", "%s", ledger_error(r->s->ledger));
}

/* The machine named in the path and what it holds. 0, or -1 and the reply is filled. */
static int begin(struct request *r, void *service, const struct api_call *call,
    struct api_reply *reply, const char *act)
{
	memset(r, 0, sizeof(*r));
	r->s = service;
	r->call = call;
	r->reply = reply;
	r->act = act;
	r->m = service_machine_find(r->s, call->path[0]);
	if (!r->m) {
		refuse(r, 404, "no-machine", "no machine is called %s: see `yoke machines`",
		    call->path[0]);
		return -1;
	}
	if (vault_machine(r->s->vault, r->m->conf->name, &r->held) < 0) {
		not_recorded(r);
		return -1;
	}
	return 0;
}

/* A string of the body, or NULL. A value of another type is refused. 0, -1. */
static int body_string(struct request *r, const char *key, const char **out)
{
	const json_t *v = json_object_get(r->call->body, key);

	*out = json_string_value(v);
	if (v && !json_is_null(v) && !*out) {
		refuse(r, 400, "body", "'%s' must be a string", key);
		return -1;
	}
	if (*out && strlen(*out) > 400) {
		refuse(r, 400, "body", "'%s' is longer than 400 bytes", key);
		*out = NULL;
		return -1;
	}
	return 0;
}

/* What holds for every order that puts something on a machine. 0, -1. */
static int may_carry(struct request *r)
{
	const struct vault_machine *h = &r->held;

	if (h->locked) {
		refuse(r, 409, "locked", "machine %s is locked%s%s: `yoke unlock %s` first",
		    r->m->conf->name, *h->lock_text ? ": " : "", h->lock_text, r->m->conf->name);
		return -1;
	}
	if (h->abandoned) {
		refuse(r, 409, "abandoned",
		    "a carrier of machine %s hangs and could not be ended: nothing can be sent "
		    "until its share or port answers again",
		    r->m->conf->name);
		return -1;
	}
	return 0;
}

static void accepted(struct request *r, uint64_t id, const char *job, const char *revision)
{
	struct vault_order o;

	if (!id) {
		not_recorded(r);
		return;
	}
	orders_kick(r->s);
	r->reply->status = 202;
	r->reply->body =
	    json_pack("{s:I, s:s, s:s, s:s, s:s, s:s}", "order", (json_int_t)id, "act", r->act,
	        "machine", r->m->conf->name, "job", job, "revision", revision, "caution", CAUTION);
	if (r->reply->body && vault_order(r->s->vault, id, &o) == 1)
		json_object_set_new(
		    r->reply->body, "state", json_string(vault_order_state_name(o.state)));
}

static uint32_t parts_of(const struct vault_part *from, uint32_t n, struct event_part *to)
{
	for (uint32_t i = 0; i < n; i++) {
		memset(&to[i], 0, sizeof(to[i]));
		memcpy(to[i].channel, from[i].channel, sizeof(to[i].channel));
		to[i].has_after = from[i].present;
		to[i].after = from[i].sha;
	}
	return n;
}

/* Of one job's pairs: the newest that this machine could be meant by, and the newest released. */
struct choice {
	const char *machine;
	bool any, has_released;
	struct vault_pair newest, released;
};

static int take_choice(void *ctx, const struct vault_pair *p)
{
	struct choice *c = ctx;

	if (*p->area && strcmp(p->area, c->machine))
		return 0;
	if (!c->any || p->seq > c->newest.seq)
		c->newest = *p;
	c->any = true;
	if (p->state == VAULT_RELEASED && (!c->has_released || p->seq > c->released.seq)) {
		c->released = *p;
		c->has_released = true;
	}
	return 0;
}

/*
 * Without a revision the newest is meant. When that one is held nobody may guess that an older one
 * is wanted instead. 0, -1 refused.
 */
static int find_newest(struct request *r, struct vault_pair *pair)
{
	struct choice c = {.machine = r->m->conf->name};
	char older[2 * YOKE_NAME_MAX + 64] = "";

	if (vault_pairs(r->s->vault, r->job, take_choice, &c) < 0) {
		not_recorded(r);
		return -1;
	}
	if (!c.any) {
		refuse(r, 404, "no-pair",
		    "there is no pair of job %s for machine %s: see `yoke jobs`", r->job,
		    r->m->conf->name);
		return -1;
	}
	if (c.newest.state == VAULT_HELD) {
		if (c.has_released)
			snprintf(older, sizeof(older), "; to send an older one, name it: %s@%s",
			    r->job, c.released.revision);
		refuse(r, 409, "held", "the newest revision of job %s is %s, and it is held: %s%s",
		    r->job, *c.newest.revision ? c.newest.revision : "not known", c.newest.text,
		    older);
		return -1;
	}
	*pair = c.newest;
	return 0;
}

/*
 * The pair of this job and revision. What lies in the machine's own folder is meant for it, also
 * while it is held: the one for every machine is no stand-in then. 0, -1 refused.
 */
static int find_pair(struct request *r, struct vault_pair *pair)
{
	int found = vault_pair(r->s->vault, r->m->conf->name, r->job, r->revision, pair);

	if (!found)
		found = vault_pair(r->s->vault, "", r->job, r->revision, pair);
	if (found < 0) {
		not_recorded(r);
		return -1;
	}
	if (!found) {
		refuse(r, 404, "no-pair",
		    "there is no pair of job %s at revision %s for machine %s: see `yoke jobs`",
		    r->job, r->revision, r->m->conf->name);
		return -1;
	}
	if (pair->state == VAULT_RELEASED)
		return 0;
	refuse(r, 409, "held", "job %s revision %s is held and is not sent: %s", pair->job,
	    pair->revision, *pair->text ? pair->text : "see `yoke jobs`");
	return -1;
}

void ask_send(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	struct vault_pair pair;
	struct request r;
	char why[600];
	int ok;

	if (begin(&r, service, call, reply, "send") || body_string(&r, "job", &r.job) ||
	    body_string(&r, "revision", &r.revision))
		return;
	if (!r.job || !*r.job) {
		refuse(&r, 400, "body", "'job' is missing");
		return;
	}
	if (may_carry(&r) ||
	    (r.revision && *r.revision ? find_pair(&r, &pair) : find_newest(&r, &pair)))
		return;
	r.revision = pair.revision;
	ok = judge_for_machine(r.s, &pair, &r.m->conf->profile, why, sizeof(why));
	if (ok <= 0) {
		refuse(&r, 409, ok ? "vault" : "refused",
		    "job %s revision %s is not sent to machine %s: %s", pair.job, pair.revision,
		    r.m->conf->name, why);
		return;
	}
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, "send", pair.job, pair.revision, part,
	        parts_of(pair.part, pair.parts, part)),
	    pair.job, pair.revision);
}

void ask_restore(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	struct request r;

	if (begin(&r, service, call, reply, "restore") || may_carry(&r))
		return;
	if (!r.held.has_good) {
		refuse(&r, 409, "no-good-pair",
		    "no pair was ever marked as proven on machine %s: `yoke prove %s` after the "
		    "first good part",
		    r.m->conf->name, r.m->conf->name);
		return;
	}
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, "restore", r.held.good_job,
	        r.held.good_revision, part, parts_of(r.held.good, r.held.goods, part)),
	    r.held.good_job, r.held.good_revision);
}

void ask_fetch(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX] = {0};
	const struct profile *profile;
	const char *channel;
	struct request r;
	uint32_t n = 0;

	if (begin(&r, service, call, reply, "fetch") || body_string(&r, "channel", &channel))
		return;
	profile = &r.m->conf->profile;
	if (r.held.abandoned && may_carry(&r))
		return;
	for (uint32_t i = 0; i < profile->channels; i++)
		if (!channel || profile_channel_find(profile, channel, strlen(channel)) == (int)i)
			memcpy(
			    part[n++].channel, profile->channel[i].name, sizeof(part[0].channel));
	if (!n) {
		refuse(&r, 400, "no-channel", "machine %s has no channel %s", r.m->conf->name,
		    channel);
		return;
	}
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, "fetch", r.held.last_job,
	        r.held.last_revision, part, n),
	    r.held.last_job, r.held.last_revision);
}

static void record_plain(
    struct request *r, enum event_kind kind, const char *note, const struct vault_about *more)
{
	struct vault_about about = more ? *more : (struct vault_about){0};
	uint64_t seq;

	about.machine = r->m->conf->name;
	about.text = note;
	seq = ledger_record(r->s->ledger, kind, r->call->who->name, r->call->from, &about);
	if (!seq) {
		not_recorded(r);
		return;
	}
	r->reply->body = show_json_machine(r->s, r->m);
	if (r->reply->body)
		json_object_set_new(r->reply->body, "event", json_integer((json_int_t)seq));
}

void ask_prove(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	struct vault_about about = {.part = part};
	struct request r;
	const char *note, *job, *revision;

	if (begin(&r, service, call, reply, "prove") || body_string(&r, "note", &note) ||
	    body_string(&r, "job", &job) || body_string(&r, "revision", &revision))
		return;
	r.job = r.held.job;
	r.revision = r.held.revision;
	if ((job && *job && strcmp(job, r.held.job)) ||
	    (revision && *revision && strcmp(revision, r.held.revision))) {
		refuse(&r, 409, "other-pair", "machine %s holds %s@%s, not %s%s%s",
		    r.m->conf->name, *r.held.job ? r.held.job : "nothing", r.held.revision,
		    job && *job ? job : "", revision && *revision ? "@" : "",
		    revision ? revision : "");
		return;
	}
	if (r.held.content != VAULT_LOADED || r.held.order || r.m->carrying.id) {
		refuse(&r, 409, "not-loaded",
		    "machine %s holds no pair that could be marked as proven (%s): carry a "
		    "released pair first",
		    r.m->conf->name,
		    r.m->carrying.id ? "an order is under way"
		                     : vault_content_name(r.held.content));
		return;
	}
	if (r.held.drift) {
		refuse(&r, 409, "drift",
		    "what machine %s holds is no longer what was carried there: drop the changed "
		    "programs as a new revision and "
		    "carry that",
		    r.m->conf->name);
		return;
	}
	about.job = r.held.job;
	about.revision = r.held.revision;
	about.parts = parts_of(r.held.part, r.held.parts, part);
	record_plain(&r, EVENT_PROVEN, note, &about);
}

void ask_lock(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r;
	const char *note;

	if (begin(&r, service, call, reply, "lock") || body_string(&r, "note", &note))
		return;
	record_plain(&r, EVENT_LOCKED, note, NULL);
	if (r.reply->body)
		orders_halt(r.s, r.m,
		    "the machine was locked before anything was changed; the order waits");
}

void ask_unlock(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r;
	const char *note;

	if (begin(&r, service, call, reply, "unlock") || body_string(&r, "note", &note))
		return;
	record_plain(&r, EVENT_UNLOCKED, note, NULL);
	orders_kick(r.s);
}

/* The order of the path. 0, or -1 and the reply is filled. */
static int order_of(struct request *r, const struct api_call *call, uint64_t *id)
{
	char *end;

	errno = 0;
	*id = strtoull(call->path[0], &end, 10);
	if (!errno && !*end && end != call->path[0])
		return 0;
	refuse(r, 400, "order", "an order is named by its number");
	return -1;
}

void ask_cancel(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r = {.s = service, .call = call, .reply = reply, .act = "cancel"};
	uint64_t id;
	int failed;

	if (order_of(&r, call, &id))
		return;
	failed = orders_cancel(r.s, id, call->who->name);
	if (failed == -ENOENT)
		refuse(&r, 404, "no-order", "there is no order %llu", (unsigned long long)id);
	else if (failed == -EALREADY)
		refuse(&r, 409, "ended", "order %llu is not waiting and not under way",
		    (unsigned long long)id);
	else if (failed)
		not_recorded(&r);
	else
		reply->body = json_pack("{s:I, s:b}", "order", (json_int_t)id, "cancelling", 1);
}

void ask_next(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r = {.s = service, .call = call, .reply = reply, .act = "next"};
	struct vault_order o;
	struct vault_about about = {.text = "put before the others that wait"};
	int found;

	if (order_of(&r, call, &about.order))
		return;
	found = vault_order(r.s->vault, about.order, &o);
	if (found < 0) {
		not_recorded(&r);
		return;
	}
	if (!found || o.state != VAULT_QUEUED) {
		refuse(&r, found ? 409 : 404, found ? "ended" : "no-order",
		    found ? "order %llu does not wait: only one that does can go before others"
		          : "there is no order %llu",
		    (unsigned long long)about.order);
		return;
	}
	if (!ledger_record(r.s->ledger, EVENT_MOVED, call->who->name, call->from, &about) ||
	    vault_order(r.s->vault, about.order, &o) != 1) {
		not_recorded(&r);
		return;
	}
	reply->body = show_json_order(&o);
	orders_kick(r.s);
}
