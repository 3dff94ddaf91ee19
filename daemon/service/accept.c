/*
 * accept:  named pair -> looked at by the check -> what it lacks is given, or refused with the reason
 *          -> accepted, and what comes of that (released, or held still), as one transaction
 * withdraw: named pair, in every folder -> withdrawn; an order that has changed nothing yet is stopped
 */
#include "accept.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "judge.h"
#include "orders.h"
#include "report_json.h"
#include "request.h"
#include "rights.h"
#include "show_json.h"
#include "stand.h"
#include "verdict.h"

enum { PAIRS = 32 };

/* What the request is about. */
struct about_pair {
	struct request r;
	const char *machine; /* the folder named, "" for that of all, NULL for any */
	const char *reason;
	struct vault_pair pair[PAIRS]; /* of this job and revision */
	size_t n;
};

static int take_pair(void *ctx, const struct vault_pair *p)
{
	struct about_pair *a = ctx;

	if (!strcmp(p->revision, a->r.revision) && (!a->machine || !strcmp(p->area, a->machine)) &&
	    a->n < PAIRS)
		a->pair[a->n++] = *p;
	return 0;
}

/* The pairs that are meant. 0, -1 refused. */
static int begin(struct about_pair *a, void *service, const struct api_call *call,
    struct api_reply *reply, const char *act)
{
	struct request *r = &a->r;

	*r = (struct request){
	    .s = service, .call = call, .reply = reply, .act = act, .job = call->path[0]};
	if (request_string(r, "revision", &r->revision) ||
	    request_string(r, "machine", &a->machine) || request_string(r, "reason", &a->reason))
		return -1;
	if (!r->revision || !*r->revision) {
		request_refuse(r, 400, "body",
		    "'revision' is missing: which one is meant nobody may guess, say JOB@REV");
		return -1;
	}
	if (vault_pairs(r->s->vault, r->job, take_pair, a) < 0) {
		request_not_recorded(r);
		return -1;
	}
	if (a->n)
		return 0;
	request_refuse(r, 404, "no-pair", "there is no pair of job %s at revision %s%s%s: see `yoke jobs`",
	    r->job, r->revision, a->machine && *a->machine ? " in the folder of machine " : "",
	    a->machine ? a->machine : "");
	return -1;
}

/* A reason that says something. 0, -1 refused. */
static int need_reason(struct about_pair *a)
{
	if (a->reason && a->reason[strspn(a->reason, " \t")])
		return 0;
	request_refuse(&a->r, 400, "reason",
	    "a reason is needed (--reason TEXT): it stands in the trail with your name");
	return -1;
}

/* The one pair that is accepted. 0, -1 refused. */
static int the_one(struct about_pair *a)
{
	struct request *r = &a->r;

	r->m = service_machine_find(r->s, a->pair[0].area);
	if (a->n > 1) {
		request_refuse(r, 409, "several",
		    "job %s revision %s lies in %zu folders: name one with --machine ('' is the "
		    "folder of all machines)",
		    r->job, r->revision, a->n);
		return -1;
	}
	if (a->pair[0].state != VAULT_WITHDRAWN)
		return 0;
	request_refuse(r, 409, "withdrawn",
	    "job %s revision %s was withdrawn by %s (%s): drop the programs as another revision",
	    r->job, r->revision, a->pair[0].who, a->pair[0].text);
	return -1;
}

/* One event of acceptance. 0, -1 not recorded. */
static int record(struct about_pair *a, const char *rule, uint32_t findings)
{
	const struct vault_pair *p = &a->pair[0];
	struct request *r = &a->r;
	struct event_part part[YOKE_CHANNELS_MAX];
	enum finding_id id = finding_by_name(rule);
	json_t *o = json_pack("{s:o}", "dropped", stand_droppers(r->s, p));
	struct vault_about about = {.machine = p->area,
	    .job = p->job,
	    .revision = p->revision,
	    .outcome = rule,
	    .text = a->reason ? a->reason : "",
	    .part = part,
	    .parts = request_parts(p->part, p->parts, part)};
	char *detail;
	uint64_t seq;

	if (o && id < FINDING_COUNT) {
		const struct profile *profile = service_profile(r->s, p->area);

		json_object_set_new(o, "rule", json_string(rule));
		json_object_set_new(
		    o, "weight", json_string(finding_weight_name(profile->weight[id])));
		json_object_set_new(o, "findings", json_integer(findings));
	}
	detail = o ? json_dumps(o, JSON_COMPACT) : NULL;
	about.detail = detail;
	seq = detail ? ledger_record(
	                   r->s->ledger, EVENT_ACCEPTED, r->call->who->name, r->call->from, &about)
	             : 0;
	free(detail);
	json_decref(o);
	return seq ? 0 : -1;
}

/* What is accepted, as it is to be recorded. */
struct acceptance {
	const char *rule[2];
	size_t n;
	uint32_t findings;
};

/* Whoever asks is certainly another than those who dropped it. 0, -1 refused. */
static int is_second(struct about_pair *a)
{
	char why[500];
	int second = stand_is_second(a->r.s, &a->pair[0], a->r.call->who->name, why, sizeof(why));

	if (second > 0)
		return 0;
	request_refuse(&a->r, 409, second ? "vault" : "same-person", "job %s revision %s is not accepted: %s",
	    a->r.job, a->r.revision, why);
	return -1;
}

/* Despite a rule: one that holds it, that may be accepted here, and by whom it may be. 0, -1 refused. */
static int despite(struct about_pair *a, const struct judge_view *view, const char *rule,
    struct acceptance *out)
{
	const struct profile *p = service_profile(a->r.s, a->pair[0].area);
	enum finding_id id = finding_by_name(rule);
	struct request *r = &a->r;

	if (id == FINDING_COUNT) {
		request_refuse(r, 400, "rule", "there is no rule '%s': `yoke explain` lists them", rule);
		return -1;
	}
	if (p->absolute[id] || view->verdict == VERDICT_DISAGREE) {
		request_refuse(r, 409, "absolute",
		    "%s is absolute here, and nobody may accept a pair despite it: %s",
		    p->absolute[id] ? rule : "that the wait codes disagree",
		    *view->first ? view->first : "correct the programs");
		return -1;
	}
	if (!view->refuses[id]) {
		request_refuse(r, 409, "no-finding",
		    "%s does not hold job %s revision %s%s%s: see `yoke job %s`", rule, r->job,
		    r->revision, *view->first ? ", but: " : "", view->first, r->job);
		return -1;
	}
	if (need_reason(a) || (p->two_person && is_second(a)))
		return -1;
	out->rule[out->n++] = finding_name(id);
	out->findings = view->refuses[id];
	return 0;
}

/* As the second person, or as one who may release. 0, -1 refused. */
static int for_itself(struct about_pair *a, const struct judge_view *view, struct acceptance *out)
{
	const struct vault_pair *pair = &a->pair[0];
	const struct profile *p = service_profile(a->r.s, pair->area);
	struct request *r = &a->r;
	struct stand st;
	char why[512];
	int need;

	if (*view->first) {
		request_refuse(r, 409, "held",
		    "job %s revision %s is held by the check: %s; only what the check lets through "
		    "is accepted, or a rule by its name: --despite RULE --reason TEXT",
		    r->job, r->revision, view->first);
		return -1;
	}
	if (stand_read(r->s, pair, &st)) {
		request_not_recorded(r);
		return -1;
	}
	need = stand_needs(r->s, p, pair, &st, why, sizeof(why));
	if (need < 0) {
		request_not_recorded(r);
		return -1;
	}
	if (need != STAND_RELEASER) { /* also what a machine may ask for that gets it from the folder of all */
		if (st.second) {
			request_refuse(r, 409, "accepted",
			    "job %s revision %s was accepted by a second person before", r->job,
			    r->revision);
			return -1;
		}
		if (is_second(a))
			return -1;
		out->rule[out->n++] = VAULT_SECOND;
		st.second = true;
		need = stand_needs(r->s, p, pair, &st, why, sizeof(why));
	}
	if (need == STAND_RELEASER && rights_has(r->s, r->call->who, DUTY_RELEASE))
		out->rule[out->n++] = VAULT_FOR_RELEASE;
	if (out->n)
		return 0;
	request_refuse(r, 403, "duty", "job %s revision %s: %s", r->job, r->revision, why);
	return -1;
}

/* The events, and what comes of them. 0 and *j, which is freed in either case; -1. */
static int record_all(struct about_pair *a, const struct acceptance *accepted, struct judgement *j)
{
	struct service *s = a->r.s;
	int failed = 0;

	memset(j, 0, sizeof(*j));
	if (ledger_begin(s->ledger))
		return -1;
	for (size_t i = 0; i < accepted->n && !failed; i++)
		failed = record(a, accepted->rule[i], accepted->findings);
	if (!failed)
		failed = judge_anew(s, &a->pair[0], a->r.call->who->name, a->r.call->from, j);
	if (failed) {
		ledger_rollback(s->ledger);
		return -1;
	}
	return ledger_commit(s->ledger);
}

void accept_pair(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct about_pair *a = calloc(1, sizeof(*a));
	struct acceptance accepted = {0};
	struct judge_view view;
	struct judgement j = {0};
	struct vault_pair now;
	const char *rule;
	char why[512];

	if (!a || begin(a, service, call, reply, "accept") ||
	    request_string(&a->r, "despite", &rule) || the_one(a))
		goto out;
	if (judge_view(a->r.s, &a->pair[0], &view, why, sizeof(why))) {
		request_refuse(&a->r, 409, "changed", "%s", why);
		goto out;
	}
	if (rule && *rule ? despite(a, &view, rule, &accepted) : for_itself(a, &view, &accepted))
		goto out;
	if (record_all(a, &accepted, &j)) {
		request_not_recorded(&a->r);
		goto out;
	}
	verdict_write(a->r.s, &j);
	orders_kick(a->r.s);
	if (vault_pair(a->r.s->vault, a->pair[0].area, a->r.job, a->r.revision, &now) == 1)
		reply->body = show_json_pair(&now);
	if (reply->body)
		json_object_set_new(reply->body, "caution", json_string(CAUTION));
out:
	judge_free(&j);
	free(a);
}

/* 0; -1 not recorded, and nothing was withdrawn. */
static int record_withdrawals(struct about_pair *a)
{
	struct request *r = &a->r;

	if (ledger_begin(r->s->ledger))
		return -1;
	for (size_t i = 0; i < a->n; i++) {
		const struct vault_pair *p = &a->pair[i];
		struct event_part part[YOKE_CHANNELS_MAX];
		struct vault_about about = {.machine = p->area,
		    .job = p->job,
		    .revision = p->revision,
		    .text = a->reason,
		    .part = part,
		    .parts = request_parts(p->part, p->parts, part)};

		if (p->state != VAULT_WITHDRAWN &&
		    !ledger_record(
		        r->s->ledger, EVENT_WITHDRAWN, r->call->who->name, r->call->from, &about)) {
			ledger_rollback(r->s->ledger);
			return -1;
		}
	}
	return ledger_commit(r->s->ledger);
}

/* Orders that have changed nothing yet do not go on; the machines that hold the pair, or get it. */
static json_t *stop_orders(struct about_pair *a)
{
	struct service *s = a->r.s;
	json_t *holds = json_array();

	for (size_t i = 0; i < s->machines; i++) {
		struct service_machine *m = &s->machine[i];
		struct vault_machine held;
		struct vault_order o;
		bool has = vault_machine(s->vault, m->conf->name, &held) == 1 &&
		           !strcmp(held.last_job, a->r.job) &&
		           !strcmp(held.last_revision, a->r.revision);

		if (m->carrying.id && vault_order(s->vault, m->carrying.id, &o) == 1 &&
		    !strcmp(o.job, a->r.job) && !strcmp(o.revision, a->r.revision)) {
			has = has || m->granted;
			orders_halt(
			    s, m, "the pair was withdrawn before anything was changed");
		}
		if (has)
			json_array_append_new(holds, json_string(m->conf->name));
	}
	return holds;
}

void accept_withdraw(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct about_pair *a = calloc(1, sizeof(*a));
	json_t *pairs = json_array();
	size_t standing = 0;

	if (!a || begin(a, service, call, reply, "withdraw") || need_reason(a))
		goto out;
	for (size_t i = 0; i < a->n; i++)
		standing += a->pair[i].state != VAULT_WITHDRAWN;
	a->r.m = service_machine_find(a->r.s, a->pair[0].area);
	if (!standing) {
		request_refuse(&a->r, 409, "withdrawn", "job %s revision %s was withdrawn before, by %s: %s",
		    a->r.job, a->r.revision, a->pair[0].who, a->pair[0].text);
		goto out;
	}
	if (record_withdrawals(a)) {
		request_not_recorded(&a->r);
		goto out;
	}
	for (size_t i = 0; i < a->n; i++) {
		struct judgement j;
		struct vault_pair now;

		if (!judge_anew(a->r.s, &a->pair[i], call->who->name, call->from, &j))
			verdict_write(a->r.s, &j);
		judge_free(&j);
		if (vault_pair(a->r.s->vault, a->pair[i].area, a->r.job, a->r.revision, &now) == 1)
			json_array_append_new(pairs, show_json_pair(&now));
	}
	reply->body = json_pack("{s:s, s:s, s:O, s:o}", "job", a->r.job, "revision", a->r.revision,
	    "pairs", pairs, "machines", stop_orders(a));
	orders_kick(a->r.s);
out:
	json_decref(pairs);
	free(a);
}
