#include "judge.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "orders.h"
#include "papers.h"
#include "report_json.h"
#include "sha256.h"
#include "yoke/text.h"

void judge_name(struct judgement *j, const struct judge_arrival *in)
{
	const char *job = program_job(in->program), *base = strrchr(in->path, '/');

	papers_name(j->area, in->area);
	papers_name(j->job, *job ? job : base ? base + 1 : in->path);
	papers_name(j->revision, program_revision(in->program));
}

static const char *from_of(const struct judge_arrival *in)
{
	return in->from ? in->from : "folder";
}

static int record_arrival(struct service *s, const struct judge_arrival *in, const char *channel)
{
	struct event_part part = {.has_after = true, .after = *in->sha};
	char number[16] = "", time[32], *detail;
	struct vault_about about = {
	    .machine = in->area,
	    .job = program_job(in->program),
	    .revision = program_revision(in->program),
	    .outcome = number,
	    .text = in->path,
	    .part = &part,
	    .parts = 1,
	};
	json_t *o = json_object();
	uint64_t seq;

	papers_name(part.channel, channel);
	if (program_number(in->program))
		snprintf(number, sizeof(number), "O%u", program_number(in->program));
	ledger_time(in->file->state.mtime_ns / 1000, time);
	json_object_set_new(o, "size", json_integer((json_int_t)program_size(in->program)));
	json_object_set_new(o, "blocks", json_integer((json_int_t)program_blocks(in->program)));
	json_object_set_new(o, "file_time", json_string(time));
	json_object_set_new(o, "complete", json_boolean(in->file->complete));
	detail = json_dumps(o, JSON_COMPACT);
	json_decref(o);
	about.detail = detail;
	seq = ledger_record(s->ledger, EVENT_ARRIVED, in->who, from_of(in), &about);
	free(detail);
	return seq ? 0 : -1;
}

static json_t *report_of(const struct exam *e, const struct papers *p)
{
	struct report_json_program programs[YOKE_CHANNELS_MAX];

	for (size_t i = 0; i < e->programs; i++) {
		programs[i].file = p->v[i].path;
		programs[i].program = e->program[i];
		memcpy(programs[i].sum, p->v[i].sha.b, YOKE_SHA_SIZE);
	}
	return report_json_pair(p->profile, e->report, programs, e->programs);
}

static const char *state_name(const struct judgement *j)
{
	return vault_pair_state_name(j->withdrawn  ? VAULT_WITHDRAWN
	                             : j->released ? VAULT_RELEASED
	                                           : VAULT_HELD);
}

static int word_it(struct judgement *j, const struct exam *e, const struct papers *p)
{
	struct ladder_style style = {.width = 80};
	struct text t = {0};

	text_printf(&t, "job %s revision %s: %s\n", j->job, *j->revision ? j->revision : "?",
	    state_name(j));
	if (*j->waits)
		text_printf(&t, "%s\n", j->waits);
	stand_words(&p->stand, &t);
	text_puts(&t, "\n");
	pair_print_findings(pair_findings(e->report), &t);
	pair_print_summary(e->report, &t);
	if (e->programs > 1) {
		text_puts(&t, "\n");
		ladder_draw(e->report, NULL, &style, &t);
	}
	j->text = text_take(&t);
	j->report = report_of(e, p);
	return j->text && j->report ? 0 : -1;
}

/* Record the decision, unless it stands so already. 0, -1. */
static int record_decision(struct service *s, struct judgement *j, const struct exam *e,
    const struct papers *p, const char *who, const char *from)
{
	struct event_part part[YOKE_CHANNELS_MAX] = {0};
	struct vault_pair old;
	char text[512];
	struct vault_about about = {
	    .machine = j->area,
	    .job = j->job,
	    .revision = j->revision,
	    .outcome = pair_verdict_name(pair_verdict(e->report)),
	    .text = text,
	    .part = part,
	    .parts = (uint32_t)p->n,
	};
	struct service_machine *m = service_machine_find(s, j->area);
	char *detail;
	int found;

	for (size_t i = 0; i < p->n; i++) {
		papers_name(part[i].channel, p->v[i].channel);
		part[i].has_after = true;
		part[i].after = p->v[i].sha;
	}
	papers_refusal(e->report, text, sizeof(text));
	if (!*text)
		memcpy(text, j->waits, sizeof(text));
	found = vault_pair(s->vault, j->area, j->job, j->revision, &old);
	if (found < 0)
		return -1;
	if (found && papers_are(p, &old) &&
	    (old.state == VAULT_WITHDRAWN ||
	        ((old.state == VAULT_RELEASED) == j->released && !strcmp(old.text, text)))) {
		j->event = old.seq;
		return 0;
	}
	detail = json_dumps(j->report, JSON_COMPACT);
	about.detail = detail;
	j->event = ledger_record(
	    s->ledger, j->released ? EVENT_RELEASED : EVENT_HELD, who, from, &about);
	free(detail);
	if (!j->event)
		return -1;
	if (j->released && m && m->conf->on_release == CONF_RELEASE_CARRY)
		return orders_queue_released(s, m, &about) ? 0 : -1;
	return 0;
}

/* What the program says its channel is, "" when it does not. */
static const char *channel_name(const struct papers *p)
{
	int channel = program_channel(p->in->program);

	return channel >= 0 ? p->profile->channel[channel].name : "";
}

/* Released, or what it is held for. 0, -1. */
static int settle(
    struct service *s, struct judgement *j, const struct exam *e, const struct papers *p)
{
	struct vault_pair stands;
	int found, need = STAND_NOTHING;

	found = *j->revision ? vault_pair(s->vault, j->area, j->job, j->revision, &stands) : 0;
	if (found < 0)
		return -1;
	j->withdrawn = found && stands.state == VAULT_WITHDRAWN;
	if (j->withdrawn)
		snprintf(j->waits, sizeof(j->waits), "withdrawn by %s: %.300s", stands.who, stands.text);
	else if (pair_may_release(e->report))
		need = stand_needs(s, p->profile, &p->key, &p->stand, j->waits, sizeof(j->waits));
	if (need < 0)
		return -1;
	j->released = pair_may_release(e->report) && !j->withdrawn && need == STAND_NOTHING;
	return 0;
}

/* What is there of the pair, checked: alone when it is not known whose mate it is. 0 and *e, -1. */
static int examine(struct service *s, const struct judge_arrival *in, const struct judgement *j,
    struct papers *p, struct exam *e)
{
	const char *name = channel_name(p);

	if (*program_job(in->program) && *program_revision(in->program) && *name &&
	    papers_take(s, p, in->area, j->job, j->revision))
		return -1;
	if (!p->n) {
		p->n = 1;
		papers_name(p->v[0].channel, name);
		snprintf(p->v[0].path, sizeof(p->v[0].path), "%s", in->path);
		p->v[0].sha = *in->sha;
		p->v[0].ready = in->program;
	}
	return papers_examine(s, p, j->area, j->job, j->revision, e);
}

/* Decide on what was examined, record the decision, free the exam. 0, -1. */
static int conclude(struct service *s, struct judgement *out, struct papers *p, struct exam *e,
    const char *who, const char *from)
{
	out->told = !settle(s, out, e, p) && !word_it(out, e, p) &&
	            !record_decision(s, out, e, p, who, from);
	exam_free(e);
	return out->told ? 0 : -1;
}

/* Examine, decide, record the decision. 0, -1. */
static int decide(struct service *s, const struct judge_arrival *in, struct judgement *out,
    struct papers *p, const char *who)
{
	struct exam e;

	return examine(s, in, out, p, &e) ? -1 : conclude(s, out, p, &e, who, from_of(in));
}

int judge_arrival(struct service *s, const struct judge_arrival *in, struct judgement *out)
{
	struct papers p = {.profile = service_profile(s, in->area), .in = in};

	memset(out, 0, sizeof(*out));
	judge_name(out, in);
	if (record_arrival(s, in, channel_name(&p)))
		return -1;
	return decide(s, in, out, &p, in->who);
}

/* Whether the vault knows this program as the newest of the pair and channel that it says now. */
static int stands(struct service *s, const struct judge_arrival *in, const struct judgement *j,
    const struct papers *now)
{
	struct papers p = *now;

	/* One that does not say what it is has no place of its own. */
	if (!*program_job(in->program) || !*program_revision(in->program) || !*channel_name(now))
		return 1;
	if (papers_take(s, &p, in->area, j->job, j->revision))
		return -1;
	for (size_t i = 0; i < p.n; i++)
		if (!strcmp(p.v[i].channel, channel_name(now)) &&
		    !memcmp(&p.v[i].sha, in->sha, sizeof(struct sha)))
			return 1;
	return 0;
}

int judge_under_new_rules(struct service *s, const struct judge_arrival *in, struct judgement *out)
{
	struct papers p = {.profile = service_profile(s, in->area), .in = in};
	int known;

	memset(out, 0, sizeof(*out));
	judge_name(out, in);
	known = stands(s, in, out, &p);
	if (known < 0)
		return -1;
	/* By the new names or headers it is another pair's, or another channel's: it arrives there.
	 */
	if (!known && record_arrival(s, in, channel_name(&p)))
		return -1;
	return decide(s, in, out, &p, "service (the configuration was changed)");
}

int judge_again(struct service *s, const struct judge_arrival *in, struct judgement *out)
{
	struct papers p = {.profile = service_profile(s, in->area), .in = in};
	struct vault_pair stands;
	struct exam e;
	int result = 0;

	memset(out, 0, sizeof(*out));
	judge_name(out, in);
	if (examine(s, in, out, &p, &e))
		return -1;
	result = settle(s, out, &e, &p);
	/* Without a revision it is held in any case. */
	if (result) {
		exam_free(&e);
		return -1;
	}
	if (!*out->revision) {
		result = word_it(out, &e, &p);
	} else if (vault_pair(s->vault, out->area, out->job, out->revision, &stands) == 1 &&
	           (stands.state == VAULT_RELEASED) == out->released) {
		out->event = stands.seq;
		result = word_it(out, &e, &p);
	}
	out->told = !result && out->text;
	exam_free(&e);
	return result;
}

/* The papers of a pair that stands, checked. 0 and *e; -1 also when other programs are its newest by now. */
static int examine_standing(
    struct service *s, const struct vault_pair *pair, struct papers *p, struct exam *e)
{
	if (papers_take(s, p, pair->area, pair->job, pair->revision) || !papers_are(p, pair))
		return -1;
	return papers_examine(s, p, pair->area, pair->job, pair->revision, e);
}

int judge_anew(struct service *s, const struct vault_pair *pair, const char *who, const char *from,
    struct judgement *out)
{
	struct papers p = {.profile = service_profile(s, pair->area)};
	struct exam e;

	memset(out, 0, sizeof(*out));
	papers_name(out->area, pair->area);
	papers_name(out->job, pair->job);
	papers_name(out->revision, pair->revision);
	if (examine_standing(s, pair, &p, &e))
		return -1;
	return conclude(s, out, &p, &e, who, from);
}

int judge_view(struct service *s, const struct vault_pair *pair, struct judge_view *out, char *why, size_t n)
{
	struct papers p = {.profile = service_profile(s, pair->area)};
	const struct findings *f;
	struct exam e;

	memset(out, 0, sizeof(*out));
	if (examine_standing(s, pair, &p, &e)) {
		snprintf(why, n,
		    "job %s revision %s cannot be judged just now: a program of it came in another "
		    "form, or cannot be read; see `yoke jobs`",
		    pair->job, pair->revision);
		return -1;
	}
	f = pair_findings(e.report);
	out->verdict = pair_verdict(e.report);
	for (int id = 0; id < FINDING_COUNT; id++)
		if (p.profile->weight[id] == WEIGHT_REFUSE)
			out->refuses[id] = f->seen[id];
	papers_refusal(e.report, out->first, sizeof(out->first));
	exam_free(&e);
	return 0;
}

void judge_free(struct judgement *j)
{
	free(j->text);
	json_decref(j->report);
	memset(j, 0, sizeof(*j));
}

int judge_for_machine(struct service *s, const struct vault_pair *pair,
    const struct profile *profile, char *why, size_t n)
{
	struct papers p = {.profile = profile};
	struct exam e;
	int ok;

	if (papers_take(s, &p, pair->area, pair->job, pair->revision)) {
		snprintf(why, n, "%s", vault_error(s->vault));
		return -1;
	}
	/* The newest arrival may be another than what was released: then its name says nothing. */
	for (uint32_t i = 0; i < pair->parts; i++)
		for (size_t k = 0; k < p.n; k++)
			if (!strcmp(pair->part[i].channel, p.v[k].channel) &&
			    memcmp(&pair->part[i].sha, &p.v[k].sha, sizeof(struct sha))) {
				p.v[k].sha = pair->part[i].sha;
				snprintf(
				    p.v[k].path, sizeof(p.v[k].path), "%s", pair->part[i].channel);
			}
	if (papers_stand(s, &p, pair->area, pair->job, pair->revision)) {
		snprintf(why, n, "%s", vault_error(s->vault));
		return -1;
	}
	if (exam_run(&e, s->vault, p.profile, p.v, p.n, why, n))
		return -1;
	ok = pair_may_release(e.report);
	if (!ok)
		papers_refusal(e.report, why, n);
	else if (profile->two_person && !p.stand.second)
		ok = stand_needs(s, profile, &p.key, &p.stand, why, n) < 0 ? -1 : 0;
	exam_free(&e);
	return ok;
}
