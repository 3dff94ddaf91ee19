/*
 * Every setting of the switches, those with the fewest switches on first, until one is found in
 * which every run fails. Otherwise the most telling run of all settings is shown: one that fails,
 * one that could not be followed, one that ends.
 */
#include <stdlib.h>
#include <string.h>
#include "repair.h"
#include "show.h"

struct switches {
	bool common; /* one set of them for all channels */
	unsigned n;
	struct {
		uint8_t channel, level;
	} v[YOKE_CHANNELS_MAX * 9];
};

struct proof {
	struct product product;
	struct switches switches;
	uint64_t set, at_hand; /* of the run to show; of the last search */
	struct search best;    /* of that setting */
	bool disagrees;        /* in that setting every run fails */
	bool fails, lost;      /* in some setting some run does, or is */
	enum finding_id cut;   /* why not every setting was examined; FINDING_COUNT: all were */
};

static void collect(struct switches *s, struct wait_flow *const *flow, size_t n)
{
	uint32_t all = 0;

	for (size_t c = 0; c < n; c++)
		all |= wait_flow_skips(flow[c]);
	for (size_t c = 0; c < (s->common ? 1 : n); c++) {
		uint32_t used = s->common ? all : wait_flow_skips(flow[c]);

		for (uint8_t level = 1; level <= 9; level++) {
			if (!(used >> level & 1))
				continue;
			s->v[s->n].channel = (uint8_t)c;
			s->v[s->n++].level = level;
		}
	}
}

static void turn(const struct switches *s, uint64_t set, uint32_t on[YOKE_CHANNELS_MAX])
{
	memset(on, 0, YOKE_CHANNELS_MAX * sizeof *on);
	for (unsigned i = 0; i < s->n; i++) {
		if (!(set >> i & 1))
			continue;
		for (size_t c = 0; c < YOKE_CHANNELS_MAX; c++)
			if (s->common || s->v[i].channel == c)
				on[c] |= 1u << s->v[i].level;
	}
}

/* The next larger number with as many bits set. */
static uint64_t next_same_bits(uint64_t v)
{
	uint64_t low = v & -v, up = v + low;

	return (((v ^ up) >> 2) / low) | up;
}

static void examine(struct proof *p, uint64_t set, struct wait_result *out)
{
	uint32_t on[YOKE_CHANNELS_MAX];
	struct search s;

	if (out->settings == WAIT_SETTINGS_MAX)
		p->cut = FINDING_SKIP_MANY;
	else if (p->product.steps > p->product.budget)
		p->cut = FINDING_RUN_LONG;
	if (p->cut != FINDING_COUNT)
		return;
	turn(&p->switches, set, on);
	product_search(&p->product, on, &s);
	p->at_hand = set;
	if (!out->settings++ || s.fewest < out->fewest)
		out->fewest = s.fewest;
	p->fails |= s.fails;
	p->lost |= s.lost;
	p->disagrees = s.fails && !s.good && !s.lost;
	if (p->disagrees || s.shown.tells > p->best.shown.tells) {
		p->best = s;
		p->set = set;
	}
}

static void search(struct proof *p, struct wait_result *out)
{
	examine(p, 0, out);
	for (unsigned ones = 1; ones <= p->switches.n; ones++) {
		uint64_t set = ((uint64_t)1 << ones) - 1;

		for (; !(set >> p->switches.n); set = next_same_bits(set)) {
			if (p->disagrees || p->cut != FINDING_COUNT || p->product.failed)
				return;
			examine(p, set, out);
		}
	}
}

static enum verdict judge(const struct proof *p)
{
	if (p->disagrees)
		return VERDICT_DISAGREE;
	if (p->fails || p->lost || p->cut != FINDING_COUNT)
		return VERDICT_CANNOT_TELL;
	return VERDICT_AGREE;
}

/* What follows depends on how often a loop runs, and that on unknown data. */
static void loop(const struct product *p, struct wait_result *out)
{
	out->repair = FINDING_FLOW_UNFOLLOWED;
	out->why = "how often a loop runs is not known, and what follows depends on it";
	out->channel_b = -1;
	for (size_t i = 0; i < p->n; i++) {
		if (!out->run[i].choices)
			continue;
		out->channel_a = (int)i;
		out->place_a = out->run[i].last;
		return;
	}
}

/* Why the run shown could not be followed. */
static void reason(const struct product *p, struct wait_result *out)
{
	out->repair = FINDING_RUN_LONG;
	out->channel_b = -1;
	for (size_t i = 0; i < p->n; i++) {
		const struct wait_walk *w = &p->walk[i];

		if (w->kind != WAIT_WALK_UNKNOWN && w->kind != WAIT_WALK_LONG)
			continue;
		if (w->kind == WAIT_WALK_UNKNOWN) {
			out->repair = FINDING_FLOW_UNFOLLOWED;
			out->why = w->why;
		}
		out->channel_a = (int)i;
		if (w->at != WAIT_NOWHERE)
			out->place_a = wait_flow_place(w->f, w->at);
		return;
	}
}

static void endless(const struct product *p, struct wait_result *out)
{
	for (size_t i = 0; i < p->n; i++) {
		const struct wait_walk *w = &p->walk[i];

		if (w->kind != WAIT_WALK_ENDLESS)
			continue;
		out->repair = FINDING_LOOP_ENDLESS;
		out->channel_a = (int)i;
		out->channel_b = -1;
		out->place_a = wait_flow_place(w->f, w->at);
		return;
	}
}

/* The run to show, walked again. False without memory. */
static bool show(struct proof *p, struct wait_result *out)
{
	const struct outcome *o = &p->best.shown;
	uint32_t on[YOKE_CHANNELS_MAX];

	turn(&p->switches, p->set, on);
	if (p->at_hand != p->set) {
		p->product.steps = 0;
		product_search(&p->product, on, &p->best);
	}
	if (p->product.failed || !show_run(&p->product, on, o, out))
		return false;
	out->branches = p->best.branches;
	switch (o->tells) {
	case TELLS_FAILED:
		return wait_repair_find(&p->product, out);
	case TELLS_LOST:
		if (o->wide)
			loop(&p->product, out);
		else
			reason(&p->product, out);
		if (o->cut)
			out->why = "conditions on unknown data make more runs possible than are "
			           "looked at";
		break;
	case TELLS_ENDLESS:
		endless(&p->product, out);
		break;
	case TELLS_LEFT:
	case TELLS_GOOD:
	case TELLS_NOTHING:
		if (p->cut != FINDING_COUNT) {
			out->repair = p->cut;
			out->channel_b = -1;
		}
		break;
	}
	return true;
}

int wait_prove(const struct profile *profile, struct wait_flow *const *flow, const int *number,
    size_t n, struct wait_result *out)
{
	struct proof *p = calloc(1, sizeof *p);
	int rc = -1;

	memset(out, 0, sizeof *out);
	out->repair = FINDING_COUNT;
	if (!p)
		return -1;
	p->cut = FINDING_COUNT;
	p->switches.common = !profile->skip_separate;
	if (!product_begin(&p->product, profile, flow, number, n))
		goto out;
	collect(&p->switches, flow, n);
	search(p, out);
	out->verdict = judge(p);
	out->states = p->product.states;
	if (p->product.failed || !show(p, out))
		goto out;
	rc = 0;
out:
	product_free(&p->product);
	free(p);
	if (rc)
		wait_result_free(out);
	return rc;
}

void wait_result_free(struct wait_result *r)
{
	free(r->rung);
	r->rung = NULL;
	r->rungs = 0;
	for (size_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		free(r->run[i].choice);
		r->run[i].choice = NULL;
		r->run[i].choices = 0;
	}
}
