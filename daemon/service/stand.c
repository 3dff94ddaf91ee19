#include "stand.h"

#include <stdio.h>
#include <string.h>
#include "report_json.h"
#include "rights.h"

static int take(void *ctx, const struct vault_acceptance *a)
{
	struct stand *st = ctx;
	enum finding_id id = finding_by_name(a->rule);

	if (!strcmp(a->rule, VAULT_SECOND))
		st->second = true;
	else if (!strcmp(a->rule, VAULT_FOR_RELEASE))
		st->for_release = true;
	else if (id < FINDING_COUNT)
		st->rule[id] = st->rules = true;
	if (st->n < STAND_KEPT)
		st->kept[st->n++] = *a;
	return 0;
}

int stand_read(struct service *s, const struct vault_pair *pair, struct stand *out)
{
	memset(out, 0, sizeof(*out));
	return vault_acceptances(s->vault, pair, take, out) < 0 ? -1 : 0;
}

void stand_ease(const struct stand *st, struct profile *p)
{
	for (int id = 0; id < FINDING_COUNT; id++)
		if (st->rule[id] && !p->absolute[id] && p->weight[id] == WEIGHT_REFUSE)
			p->weight[id] = WEIGHT_WARN;
}

void stand_words(const struct stand *st, struct text *out)
{
	for (size_t i = 0; i < st->n; i++) {
		const struct vault_acceptance *a = &st->kept[i];

		text_puts(out, "accepted ");
		if (!strcmp(a->rule, VAULT_SECOND))
			text_puts(out, "as the second person");
		else if (!strcmp(a->rule, VAULT_FOR_RELEASE))
			text_puts(out, "for release");
		else
			text_printf(out, "despite %s", a->rule);
		text_printf(out, " by %s%s", a->who, *a->text ? ": " : "");
		text_visible(out, a->text, strlen(a->text));
		text_putc(out, '\n');
	}
}

/* Who dropped each program of a pair; "" where its newest arrival is another program. */
struct droppers {
	const struct vault_pair *pair;
	char who[YOKE_CHANNELS_MAX][128];
};

static int take_slot(void *ctx, const struct vault_slot *slot)
{
	struct droppers *d = ctx;

	for (uint32_t i = 0; i < d->pair->parts; i++)
		if (!strcmp(d->pair->part[i].channel, slot->channel) &&
		    !memcmp(&d->pair->part[i].sha, &slot->sha, sizeof(struct sha)))
			memcpy(d->who[i], slot->who, sizeof(d->who[i]));
	return 0;
}

static int read_droppers(struct service *s, const struct vault_pair *pair, struct droppers *d)
{
	memset(d, 0, sizeof(*d));
	d->pair = pair;
	return vault_slots(s->vault, pair->area, pair->job, pair->revision, take_slot, d) < 0 ? -1 : 0;
}

/* "anna (uid 1002) and ben (uid 1003)" */
static void name_droppers(const struct droppers *d, struct text *out)
{
	for (uint32_t i = 0; i < d->pair->parts; i++) {
		bool told = false;

		for (uint32_t k = 0; k < i; k++)
			told = told || !strcmp(d->who[k], d->who[i]);
		if (!told)
			text_printf(out, "%s%s", i ? " and " : "",
			    *d->who[i] ? d->who[i] : "somebody who is not known");
	}
}

int stand_needs(struct service *s, const struct profile *p, const struct vault_pair *pair,
    const struct stand *st, char *why, size_t n)
{
	enum stand_need need = STAND_NOTHING;
	struct text who = {0};
	struct droppers d;
	uint32_t at = 0;

	why[0] = '\0';
	if ((!p->two_person || st->second) && !conf_duty_given(&s->conf->duties, DUTY_RELEASE))
		return STAND_NOTHING;
	if (read_droppers(s, pair, &d))
		return -1;
	if (p->two_person && !st->second) {
		need = STAND_SECOND;
		name_droppers(&d, &who);
		snprintf(why, n,
		    "second-person: dropped by %s; it waits until somebody else accepts it: `yoke "
		    "accept %s@%s`",
		    who.s ? who.s : "?", pair->job, pair->revision);
		text_free(&who);
		return need;
	}
	while (at < pair->parts && rights_owner_has(s, d.who[at], DUTY_RELEASE))
		at++;
	if (at == pair->parts || st->for_release)
		return STAND_NOTHING;
	snprintf(why, n,
	    "for-release: dropped by %s, without the duty 'release'; it waits until somebody who has "
	    "it accepts the pair: `yoke accept %s@%s`",
	    *d.who[at] ? d.who[at] : "somebody who is not known", pair->job, pair->revision);
	return STAND_RELEASER;
}

int stand_is_second(struct service *s, const struct vault_pair *pair, const char *who, char *why, size_t n)
{
	uid_t self, other;
	struct droppers d;
	const char *doubt;

	if (read_droppers(s, pair, &d)) {
		snprintf(why, n, "%s", vault_error(s->vault));
		return -1;
	}
	if (!rights_person(s, who, &self, &doubt)) {
		snprintf(why, n, "you are %s, and %s: use an account of your own", who, doubt);
		return 0;
	}
	for (uint32_t i = 0; i < pair->parts; i++) {
		if (!*d.who[i] || !rights_person(s, d.who[i], &other, &doubt)) {
			snprintf(why, n,
			    "the program of %s was dropped by %s, and %s: it may have been you. Drop it "
			    "again under an account of one person, in a file that nobody else may write",
			    pair->part[i].channel, *d.who[i] ? d.who[i] : "somebody who is not known",
			    *d.who[i] ? doubt : "nothing tells who that was");
			return 0;
		}
		if (other == self) {
			snprintf(why, n,
			    "you, %s, dropped the program of %s yourself: it takes a second person", who,
			    pair->part[i].channel);
			return 0;
		}
	}
	return 1;
}

json_t *stand_droppers(struct service *s, const struct vault_pair *pair)
{
	json_t *all = json_array();
	struct droppers d;

	if (read_droppers(s, pair, &d)) {
		json_decref(all);
		return NULL;
	}
	for (uint32_t i = 0; i < pair->parts; i++)
		json_array_append_new(
		    all, json_pack("{s:s, s:o}", "channel", pair->part[i].channel, "who",
		             *d.who[i] ? report_json_string(d.who[i]) : json_null()));
	return all;
}

bool stand_matters(const struct service *s)
{
	bool any = s->conf->profile.two_person;

	for (size_t i = 0; i < s->conf->machines; i++)
		any = any || s->conf->machine[i].profile.two_person;
	return any;
}
