#include "request.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include "judge.h"
#include "refusals.h"
#include "show_json.h"

void request_refuse(struct request *r, unsigned status, const char *name, const char *format, ...)
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
	refusals_tell(
	    r->s->refusals, uv_now(r->s->loop), r->call->who->name, r->call->from, &about);
	api_reply_error(r->reply, status, name, "%s", text);
}

void request_not_recorded(struct request *r)
{
	api_reply_error(r->reply, 500, "vault", "%s", ledger_error(r->s->ledger));
}

int request_begin(struct request *r, void *service, const struct api_call *call,
    struct api_reply *reply, const char *act)
{
	memset(r, 0, sizeof(*r));
	r->s = service;
	r->call = call;
	r->reply = reply;
	r->act = act;
	r->m = service_machine_find(r->s, call->path[0]);
	if (!r->m) {
		request_refuse(r, 404, "no-machine", "no machine is called %s: see `yoke machines`",
		    call->path[0]);
		return -1;
	}
	if (vault_machine(r->s->vault, r->m->conf->name, &r->held) < 0) {
		request_not_recorded(r);
		return -1;
	}
	return 0;
}

int request_string(struct request *r, const char *key, const char **out)
{
	const json_t *v = json_object_get(r->call->body, key);

	*out = json_string_value(v);
	if (v && !json_is_null(v) && !*out) {
		request_refuse(r, 400, "body", "'%s' must be a string", key);
		return -1;
	}
	if (*out && strlen(*out) > 400) {
		request_refuse(r, 400, "body", "'%s' is longer than 400 bytes", key);
		*out = NULL;
		return -1;
	}
	return 0;
}

int request_unlocked(struct request *r)
{
	const struct vault_machine *h = &r->held;

	if (!h->locked)
		return 0;
	request_refuse(r, 409, "locked", "machine %s is locked%s%s: `yoke unlock %s` first",
	    r->m->conf->name, *h->lock_text ? ": " : "", h->lock_text, r->m->conf->name);
	return -1;
}

int request_has_line(struct request *r)
{
	const char *name = r->m->conf->name;

	if (r->m->conf->line[0].kind != LINE_STICK)
		return 0;
	request_refuse(r, 409, "by-stick",
	    "machine %s gets its programs by stick: `yoke export JOB %s DIR` writes them, `yoke "
	    "export --last-good %s DIR` the last good pair, and `yoke import %s DIR` reads what came "
	    "back",
	    name, name, name, name);
	return -1;
}

int request_may_carry(struct request *r)
{
	if (request_has_line(r) || request_unlocked(r))
		return -1;
	if (r->held.abandoned) {
		request_refuse(r, 409, "abandoned",
		    "a carrier of machine %s hangs and could not be ended: nothing can be sent "
		    "until its share or port answers again",
		    r->m->conf->name);
		return -1;
	}
	return 0;
}

uint32_t request_parts(const struct vault_part *from, uint32_t n, struct event_part *to)
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
		request_not_recorded(r);
		return -1;
	}
	if (!c.any) {
		request_refuse(r, 404, "no-pair",
		    "there is no pair of job %s for machine %s: see `yoke jobs`", r->job,
		    r->m->conf->name);
		return -1;
	}
	if (c.newest.state != VAULT_RELEASED) {
		if (c.has_released)
			snprintf(older, sizeof(older), "; to send an older one, name it: %s@%s",
			    r->job, c.released.revision);
		request_refuse(r, 409, vault_pair_state_name(c.newest.state),
		    "the newest revision of job %s is %s, and it is %s: %s%s", r->job,
		    *c.newest.revision ? c.newest.revision : "not known",
		    vault_pair_state_name(c.newest.state), c.newest.text, older);
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
		request_not_recorded(r);
		return -1;
	}
	if (!found) {
		request_refuse(r, 404, "no-pair",
		    "there is no pair of job %s at revision %s for machine %s: see `yoke jobs`",
		    r->job, r->revision, r->m->conf->name);
		return -1;
	}
	if (pair->state == VAULT_RELEASED)
		return 0;
	request_refuse(r, 409, vault_pair_state_name(pair->state),
	    "job %s revision %s is %s and is not sent: %s", pair->job, pair->revision,
	    vault_pair_state_name(pair->state), *pair->text ? pair->text : "see `yoke jobs`");
	return -1;
}

int request_not_withdrawn(struct request *r, const char *job, const char *revision,
    const struct vault_part *part, uint32_t parts)
{
	struct vault_withdrawal w;
	int found = vault_withdrawn(r->s->vault, r->m->conf->name, job, revision, part, parts, &w);

	if (!found)
		return 0;
	if (found < 0)
		request_not_recorded(r);
	else
		request_refuse(r, 409, "withdrawn",
		    "job %s revision %s was withdrawn by %s, and goes to no machine: %s", job, revision,
		    w.who, w.text);
	return -1;
}

void request_record(
    struct request *r, enum event_kind kind, const char *note, const struct vault_about *more)
{
	struct vault_about about = more ? *more : (struct vault_about){0};
	uint64_t seq;

	about.machine = r->m->conf->name;
	about.text = note;
	seq = ledger_record(r->s->ledger, kind, r->call->who->name, r->call->from, &about);
	if (!seq) {
		request_not_recorded(r);
		return;
	}
	r->reply->body = show_json_machine(r->s, r->m);
	if (r->reply->body)
		json_object_set_new(r->reply->body, "event", json_integer((json_int_t)seq));
}

int request_job(struct request *r)
{
	if (request_string(r, "job", &r->job) || request_string(r, "revision", &r->revision))
		return -1;
	if (r->job && *r->job)
		return 0;
	request_refuse(r, 400, "body", "'job' is missing");
	return -1;
}

int request_pair(struct request *r, struct vault_pair *pair)
{
	char why[600];
	int ok;

	if (r->revision && *r->revision ? find_pair(r, pair) : find_newest(r, pair))
		return -1;
	r->revision = pair->revision;
	ok = judge_for_machine(r->s, pair, &r->m->conf->profile, why, sizeof(why));
	if (ok > 0)
		return 0;
	request_refuse(r, 409, ok ? "vault" : "refused",
	    "job %s revision %s is not sent to machine %s: %s", pair->job, pair->revision,
	    r->m->conf->name, why);
	return -1;
}
