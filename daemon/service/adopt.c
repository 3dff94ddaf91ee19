/*
 * The programs that a drifted machine holds arrive under a revision that somebody names, in the folder
 * of the pair that they were, and are judged like dropped ones: what the check refuses is held. He who
 * adopts stands as their person. One thing is changed in them: the revision in the header comment,
 * without which the check would refuse each of them; as they were they stay in the vault too, and it is
 * these that the machine is known to hold.
 *
 *   drifted --arrived, held or released (judge.c), of each channel; adopted--> loaded, read back
 */
#include "adopt.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "drifted.h"
#include "exam.h"
#include "judge.h"
#include "listen.h"
#include "manifest.h"
#include "orders.h"
#include "request.h"
#include "revision.h"
#include "sha256.h"
#include "show_json.h"
#include "verdict.h"
#include "yoke/header.h"

struct adopting {
	struct request r;
	char revision[YOKE_NAME_MAX + 1];
	struct drifted now;
	const char *area; /* of the pair as it was carried */
	const struct profile *profile;
	json_t *headers; /* channels in which the header was changed */
	struct judgement judged;
	char path[YOKE_NAME_MAX + YOKE_PATH_MAX + 2]; /* of the program at hand */
};

/* As in a header or a name: identity.c. 0, -1 refused. */
static int read_revision(struct adopting *a)
{
	const char *s;
	size_t n;

	if (request_string(&a->r, "revision", &s))
		return -1;
	n = s ? strlen(s) : 0;
	for (size_t i = 0; i < n && i < YOKE_NAME_MAX; i++)
		a->revision[i] = (char)toupper((unsigned char)s[i]);
	if (n && n <= YOKE_NAME_MAX && *s != '.' &&
	    strspn(a->revision, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-+.#") == n)
		return 0;
	request_refuse(&a->r, 400, "body",
	    "'revision' must be given: up to %d letters, digits and _ - + . #", YOKE_NAME_MAX);
	return -1;
}

/* The machine is known to hold something else than what was carried there. 0, -1 refused. */
static int has_drifted(struct adopting *a)
{
	const struct vault_machine *h = &a->r.held;
	const char *name = a->r.m->conf->name;

	if (h->order || a->r.m->carrying.id) {
		request_refuse(&a->r, 409, "busy",
		    "an order for machine %s is under way: wait for its end, or `yoke cancel` it", name);
	} else if (h->content != VAULT_LOADED) {
		request_refuse(&a->r, 409, "not-loaded",
		    "machine %s holds no pair for certain (%s): nothing of it can be adopted", name,
		    vault_content_name(h->content));
	} else if (!h->drift) {
		request_refuse(&a->r, 409, "no-drift",
		    "machine %s holds %s@%s as it was carried there, as far as is known: `yoke fetch "
		    "%s` looks",
		    name, h->job, h->revision, name);
	} else if (drifted_now(a->r.s, h, &a->now)) {
		request_not_recorded(&a->r);
	} else {
		return 0;
	}
	return -1;
}

/* Each channel holds a program of its own. 0, -1 refused. */
static int is_whole(struct adopting *a)
{
	const struct drifted *d = &a->now;
	const char *name = a->r.m->conf->name;

	for (uint32_t i = 0; i < d->parts; i++) {
		if (!d->part[i].present) {
			request_refuse(&a->r, 409, "gone",
			    "machine %s holds no program for %s: half a pair is not adopted; `yoke "
			    "restore %s` or `yoke send` carries a whole one",
			    name, d->part[i].channel, name);
			return -1;
		}
		if (*d->holds[i]) {
			request_refuse(&a->r, 409, "wrong-channel",
			    "what machine %s holds for %s is the program of %s: it was loaded into the "
			    "wrong channel and is not adopted",
			    name, d->part[i].channel, d->holds[i]);
			return -1;
		}
	}
	return 0;
}

/* 1 there is such a pair in one of the two areas, 0 not, -1. */
static int known(struct adopting *a, const char *revision, const char **area)
{
	struct vault *v = a->r.s->vault;
	struct vault_pair pair;
	int found;

	*area = a->r.m->conf->name;
	found = vault_pair(v, *area, a->r.held.job, revision, &pair);
	if (found)
		return found;
	*area = "";
	return vault_pair(v, *area, a->r.held.job, revision, &pair);
}

/* The new revision is new, and no older one. 0, -1 refused. */
static int is_new(struct adopting *a)
{
	const struct vault_machine *h = &a->r.held;
	const char *where;
	int found = known(a, a->revision, &where);

	if (found > 0) {
		request_refuse(&a->r, 409, "revision-exists",
		    "there is a revision %s of job %s already: name another one", a->revision, h->job);
	} else if (!found && revision_later(h->revision, a->revision)) {
		request_refuse(&a->r, 409, "revision-older",
		    "revision %s is older than %s, from which it comes: name a later one", a->revision,
		    h->revision);
	} else if (!found) {
		found = known(a, h->revision, &a->area);
		a->profile = service_profile(a->r.s, a->area);
		if (found >= 0)
			return 0;
	}
	if (found < 0)
		request_not_recorded(&a->r);
	return -1;
}

static int keep(struct adopting *a, const struct text *bytes, struct sha *sha)
{
	struct vault_stage *stage = vault_stage_new(a->r.s->vault);

	if (stage && !sha256_of(bytes->s, bytes->n, sha->b) &&
	    !vault_stage_add(stage, bytes->s, bytes->n))
		return vault_stage_keep(stage, sha);
	if (stage)
		vault_stage_drop(stage);
	return -1;
}

/* The program as the channel's new one, in the vault. 0, -1. */
static int revise(struct adopting *a, const struct vault_part *part, struct sha *sha)
{
	struct text as_is = {0}, revised = {0};
	int result = exam_bytes(a->r.s->vault, &part->sha, &as_is);

	*sha = part->sha;
	if (!result)
		result = header_revise(a->profile, as_is.s, as_is.n, a->revision, &revised);
	if (result > 0) {
		json_array_append_new(a->headers, json_string(part->channel));
		result = keep(a, &revised, sha);
	}
	text_free(&as_is);
	text_free(&revised);
	return result;
}

/* As if it had been dropped under this name, where the shop's names can be made from it. */
static void name_it(struct adopting *a, const struct vault_part *part)
{
	char name[YOKE_PATH_MAX + 1];

	if (manifest_target(a->profile->names, a->r.held.job, a->revision, part->channel,
	        manifest_number(a->r.s, a->profile, a->profile->names, &part->sha), name))
		snprintf(name, sizeof(name), "%s-%s.%s", a->r.held.job, a->revision, part->channel);
	snprintf(a->path, sizeof(a->path), "%s%s%s", a->area, *a->area ? "/" : "", name);
}

static int arrive(struct adopting *a, const struct vault_part *part, int64_t now_us)
{
	struct intake_file file = {.path = a->path, .complete = true, .fd = -1};
	struct judge_arrival in = {.area = a->area,
	    .path = a->path,
	    .who = a->r.call->who->name,
	    .file = &file,
	    .from = "adopt"};
	struct sha sha;
	int result = revise(a, part, &sha);

	if (result)
		return -1;
	name_it(a, part);
	in.sha = &sha;
	file.state.mtime_ns = now_us * 1000;
	in.program = exam_program(a->r.s->vault, a->profile, a->path, &sha);
	judge_free(&a->judged);
	result = in.program ? judge_arrival(a->r.s, &in, &a->judged) : -1;
	program_free(in.program);
	return result;
}

static uint64_t record(struct adopting *a, const char *note)
{
	struct event_part part[YOKE_CHANNELS_MAX];
	char text[700], *detail;
	struct vault_about about = {.machine = a->r.m->conf->name,
	    .job = a->r.held.job,
	    .revision = a->revision,
	    .outcome = a->judged.released ? "released" : "held",
	    .text = text,
	    .part = part,
	    .parts = request_parts(a->now.part, a->now.parts, part)};
	json_t *o = json_pack("{s:s, s:s, s:O}", "from_revision", a->r.held.revision, "weight",
	    finding_weight_name(a->now.weight), "headers", a->headers);
	uint64_t seq;

	for (uint32_t i = 0; i < about.parts; i++) {
		part[i].has_before = a->r.held.part[i].present;
		part[i].before = a->r.held.part[i].sha;
	}
	snprintf(text, sizeof(text), "what was changed there since revision %s%s%s", a->r.held.revision,
	    note && *note ? ": " : "", note ? note : "");
	detail = o ? json_dumps(o, JSON_COMPACT) : NULL;
	about.detail = detail;
	seq = ledger_record(
	    a->r.s->ledger, EVENT_ADOPTED, a->r.call->who->name, a->r.call->from, &about);
	free(detail);
	json_decref(o);
	return seq;
}

/* All of it in one transaction. 0, -1: nothing of it. */
static int adopt(struct adopting *a, const char *note)
{
	uv_timeval64_t now = {0};

	uv_gettimeofday(&now);
	if (ledger_begin(a->r.s->ledger))
		return -1;
	for (uint32_t i = 0; i < a->now.parts; i++)
		if (arrive(a, &a->now.part[i], now.tv_sec * 1000000 + now.tv_usec))
			goto fail;
	if (!record(a, note))
		goto fail;
	return ledger_commit(a->r.s->ledger);

fail:
	ledger_rollback(a->r.s->ledger);
	return -1;
}

static void answer(struct adopting *a)
{
	struct vault_pair pair;
	json_t *o, *adopted = NULL;

	if (vault_pair(a->r.s->vault, a->area, a->r.held.job, a->revision, &pair) == 1)
		adopted = show_json_pair(&pair);
	o = show_json_machine(a->r.s, a->r.m);
	if (o && adopted) {
		json_object_set(adopted, "headers", a->headers);
		json_object_set(o, "adopted", adopted);
	}
	json_decref(adopted);
	a->r.reply->body = o;
}

void adopt_pair(void *service, const struct api_call *call, struct api_reply *reply)
{
	struct adopting *a = calloc(1, sizeof(*a));
	const char *note;

	if (!a || request_begin(&a->r, service, call, reply, "adopt") ||
	    request_string(&a->r, "note", &note) || read_revision(a))
		goto out;
	a->r.job = a->r.held.job;
	a->r.revision = a->revision;
	if (has_drifted(a) || is_whole(a) || is_new(a))
		goto out;
	a->headers = json_array();
	if (adopt(a, note)) {
		request_not_recorded(&a->r);
		goto out;
	}
	if (a->judged.told)
		verdict_write(a->r.s, &a->judged);
	listen_compare_anew(a->r.s, a->r.m);
	orders_kick(a->r.s);
	answer(a);
out:
	if (a) {
		judge_free(&a->judged);
		json_decref(a->headers);
	}
	free(a);
}

static int take_any(void *ctx, const struct event *e, const struct sha *hash)
{
	*(bool *)ctx = true;
	return 1;
}

/* Content and event have the same time when it was the event that made it. */
static bool is_adopted(struct service *s, const struct vault_machine *held)
{
	struct vault_filter f = {.machine = held->name,
	    .job = held->job,
	    .kind = event_name(EVENT_ADOPTED),
	    .from_us = held->since_us,
	    .to_us = held->since_us + 1};
	bool any = false;

	return held->content == VAULT_LOADED && vault_events(s->vault, &f, take_any, &any) >= 0 && any;
}

static bool holds(const struct vault_machine *held, const struct vault_pair *pair)
{
	for (uint32_t i = 0; i < pair->parts; i++) {
		uint32_t k = 0;

		while (k < held->parts && strcmp(held->part[k].channel, pair->part[i].channel))
			k++;
		if (k == held->parts || !held->part[k].present ||
		    memcmp(&held->part[k].sha, &pair->part[i].sha, sizeof(struct sha)))
			return false;
	}
	return true;
}

bool adopt_stands(struct service *s, const struct vault_machine *held, char *why, size_t n)
{
	struct vault_pair pair;
	int found;

	if (!is_adopted(s, held))
		return true;
	found = vault_pair(s->vault, held->name, held->job, held->revision, &pair);
	if (!found)
		found = vault_pair(s->vault, "", held->job, held->revision, &pair);
	if (found > 0 && pair.state == VAULT_RELEASED && holds(held, &pair))
		return true;
	if (found > 0 && pair.state == VAULT_RELEASED)
		snprintf(why, n,
		    "%s@%s was adopted from this machine and is released; the machine's own copy still "
		    "has the header of before: `yoke send %s@%s %s` carries the released pair",
		    held->job, held->revision, held->job, held->revision, held->name);
	else
		snprintf(why, n, "%s@%s was adopted from this machine and is not released: see `yoke job %s`",
		    held->job, held->revision, held->job);
	return false;
}
