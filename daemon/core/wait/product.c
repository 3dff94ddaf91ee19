#include "product.h"

#include <stdlib.h>
#include <string.h>
#include "live.h"

/* Steps are counted over all channels; run_max is for one of them. */
enum { BUDGET_RUNS = 8 };

bool product_begin(struct product *p, const struct profile *profile, struct wait_flow *const *flow,
    const int *number, size_t n)
{
	memset(p, 0, sizeof *p);
	p->profile = profile;
	p->number = number;
	p->n = n;
	p->budget = profile->run_max > UINT64_MAX / BUDGET_RUNS / YOKE_CHANNELS_MAX
	                ? UINT64_MAX
	                : profile->run_max * BUDGET_RUNS * n;
	for (size_t i = 0; i < n; i++)
		if (!wait_walk_begin(&p->walk[i], flow[i], false) ||
		    !wait_walk_begin(&p->mark[i], flow[i], false) ||
		    !wait_walk_begin(&p->ways[i].walk, flow[i], false) ||
		    !wait_walk_begin(&p->ways[i].other, flow[i], false))
			return false;
	for (size_t i = 0; i < n; i++) {
		if (!live_new(flow[i], &p->live[i]))
			return false;
		p->walk[i].live = p->ways[i].other.live = p->live[i];
		p->walk[i].self = p->ways[i].other.self = 1u << number[i];
	}
	return true;
}

void product_free(struct product *p)
{
	for (size_t i = 0; i < p->n; i++) {
		wait_walk_end(&p->walk[i]);
		wait_walk_end(&p->mark[i]);
		ways_free(&p->ways[i]);
		free(p->visits[i]);
		free(p->live[i]);
	}
	nodes_free(&p->nodes);
}

static void stand(struct product *p, size_t i)
{
	uint64_t before = p->walk[i].steps;

	if (wait_walk_next(&p->walk[i]) == WAIT_WALK_BRANCH)
		p->open |= 1u << i;
	p->steps += p->walk[i].steps - before;
}

void product_start(struct product *p, const uint32_t *on)
{
	memset(&p->signals, 0, sizeof p->signals);
	p->rungs = 0;
	p->open = 0;
	for (size_t i = 0; i < p->n; i++) {
		wait_walk_restart(&p->walk[i], on[i]);
		stand(p, i);
	}
}

/* Some have come to their M99 and the others cannot go on: the first begin again. Where all have,
 * they do so together, and all is as in the beginning. */
static uint32_t begin_again(const struct product *p)
{
	uint32_t set = 0;

	for (size_t i = 0; i < p->n; i++)
		if (p->walk[i].kind == WAIT_WALK_ROUND)
			set |= 1u << i;
	return set == (1u << p->n) - 1 ? 0 : set;
}

uint32_t product_meet(struct product *p)
{
	const struct wait_code *code[YOKE_CHANNELS_MAX];
	uint32_t set = 0, group;

	p->groups = 0;
	for (size_t i = 0; i < p->n; i++)
		code[i] = wait_walk_code(&p->walk[i]);
	/* nobody who can go on is left behind: what is possible together does not touch */
	while ((group = wait_meet(p->profile, code, p->n, p->number, &p->signals))) {
		for (size_t i = 0; i < p->n; i++)
			if (group >> i & 1)
				code[i] = NULL;
		p->group[p->groups++] = group;
		p->rungs++;
		set |= group;
	}
	return set ? set : begin_again(p);
}

uint32_t product_waiting(const struct product *p)
{
	const struct wait_code *code[YOKE_CHANNELS_MAX];
	struct wait_signals signals = p->signals;
	uint32_t waiting = 0, group;

	for (size_t i = 0; i < p->n; i++)
		code[i] = wait_walk_code(&p->walk[i]);
	while ((group = wait_meet(p->profile, code, p->n, p->number, &signals)))
		for (size_t i = 0; i < p->n; i++)
			if (group >> i & 1)
				code[i] = NULL;
	for (size_t i = 0; i < p->n; i++)
		waiting |= (uint32_t)(code[i] != NULL) << i;
	return waiting;
}

void product_go(struct product *p, uint32_t set)
{
	p->states++;
	for (size_t i = 0; i < p->n; i++)
		if (set >> i & 1)
			stand(p, i);
}

static bool unknown(const struct product *p, size_t i)
{
	return p->walk[i].kind == WAIT_WALK_UNKNOWN || p->walk[i].kind == WAIT_WALK_LONG;
}

/* May what k does, now or later, be what channel i waits for? free: those that may go on. */
static bool may_come(const struct product *p, size_t i, size_t k, uint32_t free)
{
	const struct wait_code *want = wait_walk_code(&p->walk[i]);
	const struct wait_code *has = wait_walk_code(&p->walk[k]);

	return unknown(p, k) || free >> k & 1 ||
	       (has && wait_meet_same(p->profile, want, p->number[i], has, p->number[k]));
}

static bool may_go(const struct product *p, size_t i, uint32_t free)
{
	const struct wait_code *code = wait_walk_code(&p->walk[i]);
	uint32_t partners = wait_meet_partners(p->profile, code, p->number[i]);
	uint32_t here = 0;
	bool all = true, any = false;

	for (size_t k = 0; k < p->n; k++) {
		bool may = k != i && may_come(p, i, k, free);

		here |= 1u << p->number[k];
		if (k == i || !(partners >> p->number[k] & 1))
			continue;
		any |= may && (unknown(p, k) || free >> k & 1);
		all &= may;
	}
	/* a channel whose program is missing may send, or come, as well */
	return code->kind == WAIT_CODE_RECEIVE ? any || partners & ~here : all;
}

uint32_t product_stuck(const struct product *p)
{
	uint32_t waits = 0, free = 0, before;

	for (size_t i = 0; i < p->n; i++)
		if (wait_walk_code(&p->walk[i]))
			waits |= 1u << i;
	do {
		before = free;
		for (size_t i = 0; i < p->n; i++)
			if (waits >> i & 1 && !(free >> i & 1) && may_go(p, i, free))
				free |= 1u << i;
	} while (free != before);
	return waits & ~free;
}

enum product_end product_judge(const struct product *p)
{
	if (p->signals.full)
		return PRODUCT_LOST;
	if (product_stuck(p))
		return PRODUCT_FAILS;
	for (size_t i = 0; i < p->n; i++)
		if (unknown(p, i))
			return PRODUCT_LOST;
	return PRODUCT_GOOD;
}

static bool at_mark(const struct product *p)
{
	if (p->signals.n != p->mark_signals.n ||
	    memcmp(p->signals.v, p->mark_signals.v, p->signals.n * sizeof p->signals.v[0]) != 0)
		return false;
	for (size_t i = 0; i < p->n; i++)
		if (!wait_walk_same(&p->walk[i], &p->mark[i]))
			return false;
	return true;
}

static void take_mark(struct product *p)
{
	for (size_t i = 0; i < p->n; i++)
		wait_walk_assign(&p->mark[i], &p->walk[i]);
	p->mark_signals.n = p->signals.n;
	memcpy(p->mark_signals.v, p->signals.v, p->signals.n * sizeof p->signals.v[0]);
	p->due = p->since * 2;
	p->moved = 0;
	p->marked = true;
}

/*
 * The run has come to where it was before. Who did not go on in between never will: it stands for
 * ever at its code, or it begins again, which nobody has waited for so far.
 */
static enum product_end round_again(struct product *p)
{
	uint32_t again = 0;

	for (size_t i = 0; i < p->n; i++) {
		if (p->moved >> i & 1)
			continue;
		if (wait_walk_code(&p->walk[i]))
			return PRODUCT_FAILS;
		if (p->walk[i].kind == WAIT_WALK_ROUND)
			again |= 1u << i;
	}
	if (!again)
		return PRODUCT_ROUNDS;
	product_go(p, again);
	p->marked = false;
	p->since = p->due = 0;
	return PRODUCT_GOES;
}

enum product_end product_run(struct product *p, uint32_t *moved)
{
	uint32_t set;

	*moved = 0;
	p->marked = false;
	p->since = p->due = 0;
	while (!p->open) {
		if (p->signals.full || p->steps > p->budget)
			return PRODUCT_LOST;
		set = product_meet(p);
		if (!set)
			return product_judge(p);
		product_go(p, set);
		p->moved |= set;
		*moved |= set;
		if (p->open)
			break;
		if (p->marked && at_mark(p)) {
			enum product_end end = round_again(p);

			if (end != PRODUCT_GOES)
				return end;
		} else if (p->since++ >= p->due) {
			take_mark(p);
		}
	}
	return PRODUCT_GOES;
}
