#include "judge.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "orders.h"
#include "report_json.h"
#include "sha256.h"
#include "stand.h"
#include "yoke/text.h"

struct papers {
	struct exam_paper v[YOKE_CHANNELS_MAX];
	size_t n;
	const struct profile *profile;
	const struct judge_arrival *in;
	struct vault_pair key; /* area, job, revision, programs */
	struct stand stand;
	struct profile eased; /* the profile with what was accepted; used when there is anything */
};

static int rank(const struct papers *p, size_t i)
{
	return profile_channel_find(p->profile, p->v[i].channel, strlen(p->v[i].channel));
}

/* The vault lists by name; people expect the machine's own order of channels. */
static void order_papers(struct papers *p)
{
	struct exam_paper swap;

	for (size_t i = 1; i < p->n; i++)
		for (size_t k = i; k > 0 && rank(p, k) < rank(p, k - 1); k--) {
			swap = p->v[k];
			p->v[k] = p->v[k - 1];
			p->v[k - 1] = swap;
		}
}

static int take_slot(void *ctx, const struct vault_slot *slot)
{
	struct papers *p = ctx;
	struct exam_paper *paper;

	if (p->n == YOKE_CHANNELS_MAX)
		return 0;
	paper = &p->v[p->n++];
	snprintf(paper->channel, sizeof(paper->channel), "%s", slot->channel);
	snprintf(paper->path, sizeof(paper->path), "%s", slot->path);
	paper->sha = slot->sha;
	if (p->in && !memcmp(&slot->sha, p->in->sha, sizeof(slot->sha)) &&
	    !strcmp(slot->path, p->in->path))
		paper->ready = p->in->program;
	return 0;
}

static void copy_name(char out[YOKE_NAME_MAX + 1], const char *s)
{
	snprintf(out, YOKE_NAME_MAX + 1, "%.*s", YOKE_NAME_MAX, s);
}

void judge_name(struct judgement *j, const struct judge_arrival *in)
{
	const char *job = program_job(in->program), *base = strrchr(in->path, '/');

	copy_name(j->area, in->area);
	copy_name(j->job, *job ? job : base ? base + 1 : in->path);
	copy_name(j->revision, program_revision(in->program));
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

	copy_name(part.channel, channel);
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

/* What only the vault knows: this revision with other content, this number in another job. 0, -1.
 */
static int add_history(
    struct service *s, const struct judgement *j, struct exam *e, const struct papers *p)
{
	struct vault_pair before;
	struct vault_slot other;
	char text[512];
	int found = vault_was_released(s->vault, j->area, j->job, j->revision, &before);
	bool same = true;

	if (found < 0)
		return -1;
	for (size_t i = 0; found && i < p->n; i++)
		for (uint32_t k = 0; k < before.parts; k++)
			if (!strcmp(before.part[k].channel, p->v[i].channel) &&
			    memcmp(&before.part[k].sha, &p->v[i].sha, sizeof(struct sha))) {
				snprintf(text, sizeof(text),
				    "job %s revision %s was released before with another program "
				    "for %s",
				    j->job, j->revision, p->v[i].channel);
				if (same && pair_add_finding(e->report, FINDING_REVISION_REUSED,
				                (int)i, p->v[i].path, text))
					return -1;
				same = false;
			}
	for (size_t i = 0; i < e->programs; i++) {
		uint32_t number = program_number(e->program[i]);
		int clash = number ? vault_number_user(
		                         s->vault, j->area, p->v[i].channel, number, j->job, &other)
		                   : 0;

		if (clash < 0)
			return -1;
		snprintf(text, sizeof(text),
		    "O%u in channel %s is the number of job %s revision %s (%.200s) too", number,
		    p->v[i].channel, clash ? other.job : "", clash ? other.revision : "",
		    clash ? other.path : "");
		if (clash &&
		    pair_add_finding(e->report, FINDING_NUMBER_CLASH, (int)i, p->v[i].path, text))
			return -1;
	}
	return 0;
}

/* The sentence by which the check holds the pair, "" when it does not. */
static void first_refusal(const struct pair_report *r, char *out, size_t n)
{
	const struct findings *f = pair_findings(r);

	snprintf(out, n, "%s",
	    pair_may_release(r) ? "" : "the wait codes disagree for certain, which no weight changes");
	for (size_t i = 0; i < f->n; i++)
		if (f->v[i].weight == WEIGHT_REFUSE) {
			if (f->v[i].line)
				snprintf(out, n, "%s: %s:%llu: %s", finding_name(f->v[i].id),
				    f->v[i].file, (unsigned long long)f->v[i].line, f->v[i].text);
			else
				snprintf(out, n, "%s: %s", finding_name(f->v[i].id), f->v[i].text);
			return;
		}
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

static bool parts_equal(const struct vault_pair *old, const struct event_part *part, size_t n)
{
	if (old->parts != n)
		return false;
	for (size_t i = 0; i < n; i++)
		if (strcmp(old->part[i].channel, part[i].channel) ||
		    memcmp(&old->part[i].sha, &part[i].after, sizeof(struct sha)))
			return false;
	return true;
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
		copy_name(part[i].channel, p->v[i].channel);
		part[i].has_after = true;
		part[i].after = p->v[i].sha;
	}
	first_refusal(e->report, text, sizeof(text));
	if (!*text)
		memcpy(text, j->waits, sizeof(text));
	found = vault_pair(s->vault, j->area, j->job, j->revision, &old);
	if (found < 0)
		return -1;
	if (found && parts_equal(&old, part, p->n) &&
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

/* What was accepted of these programs, and the profile with it. A program that was read with the
 * profile as it is has to be read again then. 0, -1. */
static int take_stand(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision)
{
	memset(&p->key, 0, sizeof(p->key));
	copy_name(p->key.area, area);
	copy_name(p->key.job, job);
	copy_name(p->key.revision, revision);
	for (size_t i = 0; i < p->n; i++) {
		copy_name(p->key.part[i].channel, p->v[i].channel);
		p->key.part[i].present = true;
		p->key.part[i].sha = p->v[i].sha;
	}
	p->key.parts = (uint32_t)p->n;
	if (stand_read(s, &p->key, &p->stand))
		return -1;
	if (!p->stand.rules)
		return 0;
	p->eased = *p->profile;
	stand_ease(&p->stand, &p->eased);
	p->profile = &p->eased;
	for (size_t i = 0; i < p->n; i++)
		p->v[i].ready = NULL;
	return 0;
}

/* The papers checked, with what was accepted and what only the vault knows. 0 and *e, -1. */
static int examine_papers(
    struct service *s, const struct judgement *j, struct papers *p, struct exam *e)
{
	char why[512];

	if (take_stand(s, p, j->area, j->job, j->revision))
		return -1;
	if (exam_run(e, s->vault, p->profile, p->v, p->n, why, sizeof(why))) {
		fprintf(stderr, "yoked: %s\n", why);
		return -1;
	}
	if (add_history(s, j, e, p)) {
		exam_free(e);
		return -1;
	}
	return 0;
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

	if (*program_job(in->program) && *program_revision(in->program) && *name) {
		if (vault_slots(s->vault, in->area, j->job, j->revision, take_slot, p) < 0)
			return -1;
		order_papers(p);
	}
	if (!p->n) {
		p->n = 1;
		copy_name(p->v[0].channel, name);
		snprintf(p->v[0].path, sizeof(p->v[0].path), "%s", in->path);
		p->v[0].sha = *in->sha;
		p->v[0].ready = in->program;
	}
	return examine_papers(s, j, p, e);
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
	if (vault_slots(s->vault, in->area, j->job, j->revision, take_slot, &p) < 0)
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

/* The papers of a pair that stands. 0; -1 when other programs are its newest by now, or the vault cannot
 * be read. */
static int take_standing(struct service *s, const struct vault_pair *pair, struct papers *p)
{
	struct event_part part[YOKE_CHANNELS_MAX] = {0};

	if (vault_slots(s->vault, pair->area, pair->job, pair->revision, take_slot, p) < 0)
		return -1;
	order_papers(p);
	for (size_t i = 0; i < p->n; i++) {
		copy_name(part[i].channel, p->v[i].channel);
		part[i].has_after = true;
		part[i].after = p->v[i].sha;
	}
	return p->n > 0 && parts_equal(pair, part, p->n) ? 0 : -1;
}

static void name_standing(struct judgement *j, const struct vault_pair *pair)
{
	memset(j, 0, sizeof(*j));
	copy_name(j->area, pair->area);
	copy_name(j->job, pair->job);
	copy_name(j->revision, pair->revision);
}

int judge_anew(struct service *s, const struct vault_pair *pair, const char *who, const char *from,
    struct judgement *out)
{
	struct papers p = {.profile = service_profile(s, pair->area)};
	struct exam e;

	name_standing(out, pair);
	if (take_standing(s, pair, &p) || examine_papers(s, out, &p, &e))
		return -1;
	return conclude(s, out, &p, &e, who, from);
}

int judge_view(struct service *s, const struct vault_pair *pair, struct judge_view *out, char *why, size_t n)
{
	struct papers p = {.profile = service_profile(s, pair->area)};
	const struct findings *f;
	struct judgement j;
	struct exam e;

	memset(out, 0, sizeof(*out));
	name_standing(&j, pair);
	if (take_standing(s, pair, &p) || examine_papers(s, &j, &p, &e)) {
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
	first_refusal(e.report, out->first, sizeof(out->first));
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

	if (vault_slots(s->vault, pair->area, pair->job, pair->revision, take_slot, &p) < 0) {
		snprintf(why, n, "%s", vault_error(s->vault));
		return -1;
	}
	order_papers(&p);
	/* The newest arrival may be another than what was released: then its name says nothing. */
	for (uint32_t i = 0; i < pair->parts; i++)
		for (size_t k = 0; k < p.n; k++)
			if (!strcmp(pair->part[i].channel, p.v[k].channel) &&
			    memcmp(&pair->part[i].sha, &p.v[k].sha, sizeof(struct sha))) {
				p.v[k].sha = pair->part[i].sha;
				snprintf(
				    p.v[k].path, sizeof(p.v[k].path), "%s", pair->part[i].channel);
			}
	if (take_stand(s, &p, pair->area, pair->job, pair->revision)) {
		snprintf(why, n, "%s", vault_error(s->vault));
		return -1;
	}
	if (exam_run(&e, s->vault, p.profile, p.v, p.n, why, n))
		return -1;
	ok = pair_may_release(e.report);
	if (!ok)
		first_refusal(e.report, why, n);
	else if (profile->two_person && !p.stand.second)
		ok = stand_needs(s, profile, &p.key, &p.stand, why, n) < 0 ? -1 : 0;
	exam_free(&e);
	return ok;
}
