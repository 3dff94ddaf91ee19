#include "papers.h"

#include <stdio.h>
#include <string.h>

void papers_name(char out[YOKE_NAME_MAX + 1], const char *s)
{
	snprintf(out, YOKE_NAME_MAX + 1, "%.*s", YOKE_NAME_MAX, s);
}

static int rank(const struct papers *p, size_t i)
{
	return profile_channel_find(p->profile, p->v[i].channel, strlen(p->v[i].channel));
}

/* The vault lists by name; people expect the machine's own order of channels. */
static void order(struct papers *p)
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

int papers_take(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision)
{
	if (vault_slots(s->vault, area, job, revision, take_slot, p) < 0)
		return -1;
	order(p);
	return 0;
}

bool papers_are(const struct papers *p, const struct vault_pair *pair)
{
	if (pair->parts != p->n)
		return false;
	for (size_t i = 0; i < p->n; i++)
		if (strcmp(pair->part[i].channel, p->v[i].channel) ||
		    memcmp(&pair->part[i].sha, &p->v[i].sha, sizeof(struct sha)))
			return false;
	return true;
}

int papers_stand(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision)
{
	memset(&p->key, 0, sizeof(p->key));
	papers_name(p->key.area, area);
	papers_name(p->key.job, job);
	papers_name(p->key.revision, revision);
	for (size_t i = 0; i < p->n; i++) {
		papers_name(p->key.part[i].channel, p->v[i].channel);
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

/* What only the vault knows: this revision with other content, this number in another job. 0, -1.
 */
static int add_history(struct service *s, struct exam *e, const struct papers *p)
{
	struct vault_pair before;
	struct vault_slot other;
	char text[512];
	int found = vault_was_released(s->vault, p->key.area, p->key.job, p->key.revision, &before);
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
				    p->key.job, p->key.revision, p->v[i].channel);
				if (same && pair_add_finding(e->report, FINDING_REVISION_REUSED,
				                (int)i, p->v[i].path, text))
					return -1;
				same = false;
			}
	for (size_t i = 0; i < e->programs; i++) {
		uint32_t number = program_number(e->program[i]);
		int clash = number ? vault_number_user(
		                         s->vault, p->key.area, p->v[i].channel, number, p->key.job, &other)
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

int papers_examine(struct service *s, struct papers *p, const char *area, const char *job,
    const char *revision, struct exam *e)
{
	char why[512];

	if (papers_stand(s, p, area, job, revision))
		return -1;
	if (exam_run(e, s->vault, p->profile, p->v, p->n, why, sizeof(why))) {
		fprintf(stderr, "yoked: %s\n", why);
		return -1;
	}
	if (add_history(s, e, p)) {
		exam_free(e);
		return -1;
	}
	return 0;
}

void papers_refusal(const struct pair_report *r, char *out, size_t n)
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
