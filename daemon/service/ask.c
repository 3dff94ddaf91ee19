#include "ask.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "adopt.h"
#include "drip.h"
#include "listen.h"
#include "orders.h"
#include "request.h"
#include "show_json.h"

static void accepted(struct request *r, uint64_t id, const char *job, const char *revision,
    const char *caution)
{
	struct vault_order o;

	if (!id) {
		request_not_recorded(r);
		return;
	}
	orders_kick(r->s);
	r->reply->status = 202;
	r->reply->body =
	    json_pack("{s:I, s:s, s:s, s:s, s:s, s:s}", "order", (json_int_t)id, "act", r->act,
	        "machine", r->m->conf->name, "job", job, "revision", revision, "caution", caution);
	if (r->reply->body && vault_order(r->s->vault, id, &o) == 1)
		json_object_set_new(
		    r->reply->body, "state", json_string(vault_order_state_name(o.state)));
}

void ask_send(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	bool dry = json_is_true(json_object_get(call->body, "dry_run"));
	struct vault_pair pair;
	struct request r;

	if (request_begin(&r, service, call, reply, dry ? "dry-run" : "send") || request_job(&r) ||
	    request_may_carry(&r) || request_pair(&r, &pair))
		return;
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, r.act, pair.job, pair.revision, part,
	        request_parts(pair.part, pair.parts, part)),
	    pair.job, pair.revision, dry ? "" : CAUTION);
}

/* The channel of the body: its index, or -1 refused. */
static int one_channel(struct request *r)
{
	const struct profile *p = &r->m->conf->profile;
	const char *name;
	int c;

	if (request_string(r, "channel", &name))
		return -1;
	c = name ? profile_channel_find(p, name, strlen(name)) : -1;
	if (!name)
		request_refuse(
		    r, 400, "body", "'channel' is missing: one channel is dripped at a time");
	else if (c < 0)
		request_refuse(
		    r, 400, "no-channel", "machine %s has no channel %s", r->m->conf->name, name);
	return c;
}

/* The channel's program of a released pair that the control may execute while it reads it. 0, -1
 * refused. */
static int program_to_drip(struct request *r, uint32_t channel, struct vault_pair *pair,
    struct event_part *program, bool *meets)
{
	const char *name = r->m->conf->profile.channel[channel].name;
	struct event_part part[YOKE_CHANNELS_MAX];
	uint32_t parts, i = 0;
	char why[800];
	int ok;

	if (drip_line(r->m, channel, why, sizeof(why))) {
		request_refuse(r, 409, "drip", "%s", why);
		return -1;
	}
	if (request_pair(r, pair))
		return -1;
	parts = request_parts(pair->part, pair->parts, part);
	while (i < parts && strcmp(part[i].channel, name))
		i++;
	if (i == parts || !part[i].has_after) {
		request_refuse(r, 409, "no-channel", "job %s revision %s has no program for channel %s",
		    pair->job, pair->revision, name);
		return -1;
	}
	*program = part[i];
	ok = drip_may(r->s, r->m, name, &program->after, meets, why, sizeof(why));
	if (ok > 0)
		return 0;
	request_refuse(r, 409, ok ? "vault" : "drip", "job %s revision %s, machine %s: %s",
	    pair->job, pair->revision, r->m->conf->name, why);
	return -1;
}

void ask_drip(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part program;
	struct text caution = {0};
	struct vault_pair pair;
	struct request r;
	bool meets = false;
	int c;

	if (request_begin(&r, service, call, reply, "drip") || request_job(&r))
		return;
	c = one_channel(&r);
	if (c < 0 || request_may_carry(&r) ||
	    program_to_drip(&r, (uint32_t)c, &pair, &program, &meets))
		return;
	drip_caution(&pair, program.channel, meets, &r.held, &caution);
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, "drip", pair.job, pair.revision,
	        &program, 1),
	    pair.job, pair.revision, caution.failed ? CAUTION : caution.s);
	if (reply->body && reply->status == 202)
		json_object_set_new(reply->body, "channel", json_string(program.channel));
	text_free(&caution);
}

/* The machine's last good pair; where one is named it must be this. 0, -1 refused. */
static int last_good(struct request *r)
{
	const struct vault_machine *h = &r->held;
	const char *name = r->m->conf->name;

	if (!h->has_good)
		request_refuse(r, 409, "no-good-pair",
		    "no pair was ever marked as proven on machine %s: `yoke prove %s` after the "
		    "first good part",
		    name, name);
	else if (r->job && (strcmp(r->job, h->good_job) ||
	                       strcmp(r->revision ? r->revision : "", h->good_revision)))
		request_refuse(r, 409, "other-pair",
		    "the last good pair of machine %s is %s@%s by now: look at it first", name,
		    h->good_job, h->good_revision);
	else
		return request_not_withdrawn(r, h->good_job, h->good_revision, h->good, h->goods);
	return -1;
}

void ask_restore(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	struct vault_pair pair = {0};
	struct request r;
	bool named;

	if (request_begin(&r, service, call, reply, "restore") || request_string(&r, "job", &r.job) ||
	    request_string(&r, "revision", &r.revision) || request_may_carry(&r))
		return;
	named = r.job && *r.job && !json_is_true(json_object_get(call->body, "last_good"));
	if (named ? request_pair(&r, &pair) : last_good(&r))
		return;
	if (!named) {
		memcpy(pair.job, r.held.good_job, sizeof(pair.job));
		memcpy(pair.revision, r.held.good_revision, sizeof(pair.revision));
		memcpy(pair.part, r.held.good, sizeof(pair.part));
		pair.parts = r.held.goods;
	}
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, "restore", pair.job, pair.revision,
	        part, request_parts(pair.part, pair.parts, part)),
	    pair.job, pair.revision, CAUTION);
}

void ask_fetch(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX] = {0};
	const struct profile *profile;
	const char *channel;
	struct request r;
	uint32_t n = 0;

	if (request_begin(&r, service, call, reply, "fetch") || request_string(&r, "channel", &channel))
		return;
	profile = &r.m->conf->profile;
	if (request_has_line(&r) || (r.held.abandoned && request_may_carry(&r)))
		return;
	for (uint32_t i = 0; i < profile->channels; i++)
		if (!channel || profile_channel_find(profile, channel, strlen(channel)) == (int)i)
			memcpy(
			    part[n++].channel, profile->channel[i].name, sizeof(part[0].channel));
	if (!n) {
		request_refuse(&r, 400, "no-channel", "machine %s has no channel %s", r.m->conf->name,
		    channel);
		return;
	}
	accepted(&r,
	    orders_queue(r.s, r.m, call->who->name, call->from, "fetch", r.held.last_job,
	        r.held.last_revision, part, n),
	    r.held.last_job, r.held.last_revision, CAUTION);
}

void ask_prove(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	struct vault_about about = {.part = part};
	struct request r;
	const char *note, *job, *revision;
	char why[700];

	if (request_begin(&r, service, call, reply, "prove") || request_string(&r, "note", &note) ||
	    request_string(&r, "job", &job) || request_string(&r, "revision", &revision))
		return;
	r.job = r.held.job;
	r.revision = r.held.revision;
	if ((job && *job && strcmp(job, r.held.job)) ||
	    (revision && *revision && strcmp(revision, r.held.revision))) {
		request_refuse(&r, 409, "other-pair", "machine %s holds %s@%s, not %s%s%s",
		    r.m->conf->name, *r.held.job ? r.held.job : "nothing", r.held.revision,
		    job && *job ? job : "", revision && *revision ? "@" : "",
		    revision ? revision : "");
		return;
	}
	if (r.held.content != VAULT_LOADED || r.held.order || r.m->carrying.id) {
		request_refuse(&r, 409, "not-loaded",
		    "machine %s holds no pair that could be marked as proven (%s): carry a "
		    "released pair first",
		    r.m->conf->name,
		    r.m->carrying.id ? "an order is under way"
		                     : vault_content_name(r.held.content));
		return;
	}
	if (r.held.drift) {
		request_refuse(&r, 409, "drift",
		    "what machine %s holds is no longer what was carried there: `yoke adopt %s --rev REV` "
		    "makes it a new revision, `yoke send %s@%s %s` carries the released pair back",
		    r.m->conf->name, r.m->conf->name, r.held.job, r.held.revision, r.m->conf->name);
		return;
	}
	/* Which of the two made the part nobody knows; with the job named, somebody does. */
	if (r.held.stick.state == VAULT_STICK_OUT && !(job && *job) &&
	    (strcmp(r.held.stick.job, r.job) || strcmp(r.held.stick.revision, r.revision))) {
		request_refuse(&r, 409, "stick-out",
		    "machine %s holds %s@%s as far as is known, and %s@%s was given out for it on a "
		    "stick: say which is loaded with `yoke loaded %s JOB@REV`, or `yoke import` what "
		    "came back",
		    r.m->conf->name, r.job, r.revision, r.held.stick.job, r.held.stick.revision,
		    r.m->conf->name);
		return;
	}
	if (!adopt_stands(r.s, &r.held, why, sizeof(why))) {
		request_refuse(&r, 409, "adopted", "%s", why);
		return;
	}
	about.job = r.held.job;
	about.revision = r.held.revision;
	about.parts = request_parts(r.held.part, r.held.parts, part);
	request_record(&r, EVENT_PROVEN, note, &about);
}

void ask_doubt(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct vault_about about = {.outcome = "said"};
	struct request r;
	const char *note;
	char text[512];

	if (request_begin(&r, service, call, reply, "doubt") || request_string(&r, "note", &note))
		return;
	if (r.held.order || r.m->carrying.id) {
		request_refuse(&r, 409, "busy",
		    "an order for machine %s is under way: wait for its end, or `yoke cancel` it",
		    r.m->conf->name);
		return;
	}
	about.job = r.held.last_job;
	about.revision = r.held.last_revision;
	snprintf(text, sizeof(text), "said to be not known any more%s%s", note && *note ? ": " : "",
	    note ? note : "");
	request_record(&r, EVENT_UNKNOWN, text, &about);
	listen_compare_anew(r.s, r.m);
}

void ask_lock(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r;
	const char *note;
	char goes_on[512];

	if (request_begin(&r, service, call, reply, "lock") || request_string(&r, "note", &note))
		return;
	request_record(&r, EVENT_LOCKED, note, NULL);
	if (!r.reply->body)
		return;
	orders_halt(
	    r.s, r.m, "the machine was locked before anything was changed; the order waits");
	drip_goes_on(r.m, goes_on, sizeof(goes_on));
	if (*goes_on)
		json_object_set_new(r.reply->body, "caution", json_string(goes_on));
}

void ask_unlock(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r;
	const char *note;

	if (request_begin(&r, service, call, reply, "unlock") || request_string(&r, "note", &note))
		return;
	request_record(&r, EVENT_UNLOCKED, note, NULL);
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
	request_refuse(r, 400, "order", "an order is named by its number");
	return -1;
}

void ask_cancel(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct request r = {.s = service, .call = call, .reply = reply, .act = "cancel"};
	struct vault_order o;
	uint64_t id;
	int failed;

	if (order_of(&r, call, &id))
		return;
	failed = orders_cancel(r.s, id, call->who->name);
	if (failed == -ENOENT)
		request_refuse(&r, 404, "no-order", "there is no order %llu", (unsigned long long)id);
	else if (failed == -EALREADY)
		request_refuse(&r, 409, "ended", "order %llu is not waiting and not under way",
		    (unsigned long long)id);
	else if (failed)
		request_not_recorded(&r);
	else
		reply->body = json_pack("{s:I, s:b}", "order", (json_int_t)id, "cancelling", 1);
	if (!failed && vault_order(r.s->vault, id, &o) == 1 && o.state == VAULT_CARRYING &&
	    drip_begun(&o))
		json_object_set_new(reply->body, "caution", json_string(drip_cancelling));
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
		request_not_recorded(&r);
		return;
	}
	if (!found || o.state != VAULT_QUEUED) {
		request_refuse(&r, found ? 409 : 404, found ? "ended" : "no-order",
		    found ? "order %llu does not wait: only one that does can go before others"
		          : "there is no order %llu",
		    (unsigned long long)about.order);
		return;
	}
	if (!ledger_record(r.s->ledger, EVENT_MOVED, call->who->name, call->from, &about) ||
	    vault_order(r.s->vault, about.order, &o) != 1) {
		request_not_recorded(&r);
		return;
	}
	reply->body = show_json_order(&o);
	orders_kick(r.s);
}
