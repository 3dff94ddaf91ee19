/*
 * The comparison. For channels whose flow is known, each has one sequence of wait codes per setting
 * of the switches; they agree when the sequences are equal, and otherwise stand for ever at the
 * first difference (Hoare, Communicating Sequential Processes, 2.2: (c->P)||(d->Q) = STOP for c !=
 * d). A channel that has ended never comes to a wait.
 */
#include <stdlib.h>
#include <string.h>
#include "repair.h"
#include "walk.h"

/* Of a run: the first rungs and the last are kept. Steps over all settings are bounded by a
 * multiple of run_max. */
enum { RUNGS_FIRST = 200, RUNGS_LAST = 40, BUDGET_RUNS = 8 };

struct proof {
	const struct profile *profile;
	size_t n;
	struct wait_walk walk[YOKE_CHANNELS_MAX];
	bool common;   /* one set of switches for all channels */
	unsigned bits; /* switches in use */
	struct {
		uint8_t channel, level;
	} bit[YOKE_CHANNELS_MAX * 9];
	uint64_t steps;    /* over all settings */
	uint32_t before;   /* code of the last meeting of the run at hand, 0 none */
	uint64_t meetings; /* of the run at hand */
};

static void setting(const struct proof *p, uint64_t set, uint32_t on[YOKE_CHANNELS_MAX])
{
	memset(on, 0, YOKE_CHANNELS_MAX * sizeof *on);
	for (unsigned i = 0; i < p->bits; i++) {
		if (!(set >> i & 1))
			continue;
		for (size_t c = 0; c < p->n; c++)
			if (p->common || p->bit[i].channel == c)
				on[c] |= 1u << p->bit[i].level;
	}
}

static void collect_bits(struct proof *p, struct wait_flow *const *flow)
{
	uint32_t all = 0;

	for (size_t c = 0; c < p->n; c++)
		all |= wait_flow_skips(flow[c]);
	for (size_t c = 0; c < (p->common ? 1 : p->n); c++) {
		uint32_t used = p->common ? all : wait_flow_skips(flow[c]);
		for (uint8_t level = 1; level <= 9; level++) {
			if (!(used >> level & 1))
				continue;
			p->bit[p->bits].channel = (uint8_t)c;
			p->bit[p->bits++].level = level;
		}
	}
}

static void start(struct proof *p, const uint32_t on[YOKE_CHANNELS_MAX])
{
	p->before = 0;
	p->meetings = 0;
	for (size_t c = 0; c < p->n; c++)
		wait_walk_restart(&p->walk[c], on[c]);
}

/*
 * All channels have ended. Where some programs end with M99 and begin again, and others end for
 * good, the first ones go on to a wait that has no mate any more.
 */
static void begin_again(struct proof *p)
{
	size_t ended = 0, repeat = 0;

	for (size_t i = 0; i < p->n; i++) {
		ended += p->walk[i].kind == WAIT_WALK_END;
		repeat += p->walk[i].kind == WAIT_WALK_END && p->walk[i].repeats;
	}
	if (ended < p->n || repeat == 0 || repeat == p->n)
		return;
	for (size_t i = 0; i < p->n; i++) {
		if (!p->walk[i].repeats)
			continue;
		wait_walk_again(&p->walk[i]);
		wait_walk_next(&p->walk[i]);
	}
}

/* All channels on to their next wait code. True when they meet there. */
static bool step(struct proof *p)
{
	const struct wait_code *first, *c;
	bool meet = true;

	for (size_t i = 0; i < p->n; i++)
		wait_walk_next(&p->walk[i]);
	begin_again(p);
	first = wait_walk_code(&p->walk[0]);
	for (size_t i = 0; i < p->n && meet; i++) {
		c = wait_walk_code(&p->walk[i]);
		meet = c && c->code == first->code;
	}
	if (meet) {
		p->before = first->code;
		p->meetings++;
	}
	return meet;
}

/* What stopping where the walks stand means. */
static enum verdict judge(const struct proof *p)
{
	const struct wait_code *first = NULL;
	size_t ended = 0, known = 0;

	for (size_t i = 0; i < p->n; i++) {
		const struct wait_code *c = wait_walk_code(&p->walk[i]);
		ended += p->walk[i].kind == WAIT_WALK_END;
		known += c || p->walk[i].kind == WAIT_WALK_END;
		if (c && first && c->code != first->code)
			return VERDICT_DISAGREE;
		if (c)
			first = c;
	}
	if (first && ended)
		return VERDICT_DISAGREE;
	return known == p->n ? VERDICT_AGREE : VERDICT_CANNOT_TELL;
}

static enum verdict run(struct proof *p, uint64_t set)
{
	uint32_t on[YOKE_CHANNELS_MAX];
	uint64_t longest = 0;

	setting(p, set, on);
	start(p, on);
	while (step(p))
		;
	for (size_t i = 0; i < p->n; i++)
		if (p->walk[i].steps > longest)
			longest = p->walk[i].steps;
	p->steps += longest;
	return judge(p);
}

static void draw(const struct proof *p, struct wait_rung *r, bool meets)
{
	memset(r, 0, sizeof *r);
	r->meets = meets;
	for (size_t i = 0; i < p->n; i++) {
		r->channel[i].at_end = p->walk[i].kind == WAIT_WALK_END;
		r->channel[i].code = wait_walk_code(&p->walk[i]);
		r->channel[i].step = p->meetings - (meets && r->channel[i].code);
	}
}

/* Two channels that do not go together: the one where the repair likely belongs comes second. */
static bool same(const struct wait_walk *a, const struct wait_walk *b)
{
	const struct wait_code *ca = wait_walk_code(a), *cb = wait_walk_code(b);

	return a->kind == b->kind && (!ca || ca->code == cb->code);
}

static bool repair(const struct proof *p, struct wait_result *out)
{
	size_t a = 0, b = 0, most = 0;

	/* the channel that most others agree with sets the tone; an unknown one never does */
	for (size_t i = 0; i < p->n; i++) {
		size_t with = 0;
		if (!wait_walk_code(&p->walk[i]))
			continue;
		for (size_t k = 0; k < p->n; k++)
			with += same(&p->walk[i], &p->walk[k]);
		if (with > most) {
			most = with;
			a = i;
		}
	}
	for (size_t k = 0; k < p->n; k++) {
		const struct wait_walk *w = &p->walk[k];
		if ((w->kind == WAIT_WALK_CODE || w->kind == WAIT_WALK_END) &&
		    !same(&p->walk[a], w)) {
			b = k;
			break;
		}
	}
	return wait_repair_find(out, (int)a, &p->walk[a], (int)b, &p->walk[b], p->before);
}

static void reason(const struct proof *p, struct wait_result *out)
{
	for (size_t i = 0; i < p->n; i++) {
		const struct wait_walk *w = &p->walk[i];
		if (w->kind != WAIT_WALK_UNKNOWN && w->kind != WAIT_WALK_LONG)
			continue;
		out->repair =
		    w->kind == WAIT_WALK_LONG ? FINDING_RUN_LONG : FINDING_FLOW_UNFOLLOWED;
		out->channel_a = (int)i;
		out->channel_b = -1;
		if (w->at)
			out->place_a = w->at->at;
		return;
	}
}

/* Run this setting again, known to meet total times, and keep its rungs. False without memory. */
static bool show(struct proof *p, uint64_t set, uint64_t total, struct wait_result *out)
{
	bool cut = total > RUNGS_FIRST + RUNGS_LAST;
	size_t keep = cut ? RUNGS_FIRST + RUNGS_LAST : (size_t)total;

	free(out->rung);
	out->rungs = 0;
	out->rung = calloc(keep + 1, sizeof *out->rung);
	if (!out->rung)
		return false;
	setting(p, set, out->switches);
	start(p, out->switches);
	while (step(p)) {
		if (cut && p->meetings > RUNGS_FIRST && p->meetings <= total - RUNGS_LAST)
			out->rung[RUNGS_FIRST - 1].repeat++;
		else
			draw(p, &out->rung[out->rungs++], true);
	}
	out->verdict = judge(p);
	out->meetings = p->meetings;
	draw(p, &out->rung[out->rungs++], out->verdict == VERDICT_AGREE);
	if (out->verdict == VERDICT_DISAGREE)
		return repair(p, out);
	if (out->verdict == VERDICT_CANNOT_TELL)
		reason(p, out);
	return true;
}

/* The next larger number with as many bits set. */
static uint64_t next_same_bits(uint64_t v)
{
	uint64_t low = v & -v, up = v + low;

	return (((v ^ up) >> 2) / low) | up;
}

/* What was found over the settings so far. */
struct search {
	uint64_t set, meetings; /* of the run to show */
	enum verdict verdict;
	bool stop, cut; /* a disagreement was found; not every setting was examined */
	enum finding_id cut_by;
};

static void examine(struct proof *p, struct search *s, uint64_t set, struct wait_result *out)
{
	enum verdict v;

	if (out->settings == WAIT_SETTINGS_MAX || p->steps / BUDGET_RUNS > p->profile->run_max) {
		s->cut_by =
		    out->settings == WAIT_SETTINGS_MAX ? FINDING_SKIP_MANY : FINDING_RUN_LONG;
		s->stop = s->cut = true;
		return;
	}
	v = run(p, set);
	if (!out->settings++ || p->meetings < out->fewest)
		out->fewest = p->meetings;
	if (v == VERDICT_DISAGREE || (v == VERDICT_CANNOT_TELL && s->verdict == VERDICT_AGREE) ||
	    out->settings == 1) {
		s->set = set;
		s->meetings = p->meetings;
		s->verdict = v;
	}
	s->stop = v == VERDICT_DISAGREE;
}

/* Every setting, those with the fewest switches on first, until one disagrees. */
static struct search search(struct proof *p, struct wait_result *out)
{
	struct search s = {.verdict = VERDICT_AGREE};

	examine(p, &s, 0, out);
	for (unsigned ones = 1; ones <= p->bits && !s.stop; ones++) {
		uint64_t set = ((uint64_t)1 << ones) - 1;
		for (; !(set >> p->bits) && !s.stop; set = next_same_bits(set))
			examine(p, &s, set, out);
	}
	return s;
}

int wait_prove(
    const struct profile *profile, struct wait_flow *const *flow, size_t n, struct wait_result *out)
{
	struct proof p = {.profile = profile, .n = n, .common = !profile->skip_separate};
	struct search s;
	int rc = -1;

	memset(out, 0, sizeof *out);
	out->repair = FINDING_COUNT;
	for (size_t i = 0; i < n; i++)
		if (!wait_walk_begin(&p.walk[i], flow[i]))
			goto out;
	collect_bits(&p, flow);
	s = search(&p, out);
	if (!show(&p, s.set, s.meetings, out))
		goto out;
	if (s.cut && out->verdict == VERDICT_AGREE) {
		out->verdict = VERDICT_CANNOT_TELL;
		out->repair = s.cut_by;
	}
	rc = 0;
out:
	for (size_t i = 0; i < n; i++)
		wait_walk_end(&p.walk[i]);
	if (rc)
		wait_result_free(out);
	return rc;
}

void wait_result_free(struct wait_result *r)
{
	free(r->rung);
	r->rung = NULL;
	r->rungs = 0;
}
