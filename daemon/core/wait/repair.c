/*
 * Which two channels the mistake is between, and the mistakes that show by themselves: a loop that
 * never ends, lists of partners that differ, a signal that nobody sends. All others are found by
 * comparing what the two would meet next.
 */
#include "repair.h"

void repair_set(struct wait_result *out, enum finding_id id, size_t a,
    const struct wait_place *at_a, uint32_t code_a, size_t b, const struct wait_place *at_b,
    uint32_t code_b)
{
	static const struct wait_place end = {.sequence = -1};

	out->repair = id;
	out->channel_a = (int)a;
	out->channel_b = (int)b;
	out->place_a = at_a && at_a->line ? *at_a : end;
	out->place_b = at_b && at_b->line ? *at_b : end;
	out->code_a = code_a;
	out->code_b = code_b;
}

const struct wait_code *repair_last_code(const struct wait_result *out, size_t channel)
{
	for (size_t i = out->rungs - 1; i--;)
		if (out->rung[i].channel[channel].takes_part)
			return out->rung[i].channel[channel].code;
	return NULL;
}

/* A loop without end keeps one channel from the code at which another one waits. */
static bool endless(const struct product *p, struct wait_result *out, size_t a)
{
	const struct wait_code *code = wait_walk_code(&p->walk[a]);
	uint32_t partners = wait_meet_partners(p->profile, code, p->number[a]);

	for (size_t k = 0; k < p->n; k++) {
		const struct wait_walk *w = &p->walk[k];
		struct wait_place at;

		if (w->kind != WAIT_WALK_ENDLESS || !(partners >> p->number[k] & 1))
			continue;
		at = wait_flow_place(w->f, w->at);
		repair_set(out, FINDING_LOOP_ENDLESS, k, &at, 0, a, &code->at, code->code);
		return true;
	}
	return false;
}

/* A partner stands at the same code, or has just gone on from it, and names others. */
static bool partners(const struct product *p, struct wait_result *out, size_t a)
{
	const struct wait_code *code = wait_walk_code(&p->walk[a]);
	uint32_t with = wait_meet_partners(p->profile, code, p->number[a]);

	for (size_t k = 0; k < p->n; k++) {
		const struct wait_code *c = wait_walk_code(&p->walk[k]);

		if (k == a || !(with >> p->number[k] & 1))
			continue;
		for (int turn = 0; turn < 2; turn++, c = repair_last_code(out, k)) {
			if (!c || c->kind != WAIT_CODE_MEET || c->code != code->code ||
			    wait_meet_partners(p->profile, c, p->number[k]) == with)
				continue;
			repair_set(out, FINDING_WAIT_PARTNERS, a, &code->at, code->code, k, &c->at,
			    c->code);
			return true;
		}
	}
	return false;
}

static bool same(const struct product *p, size_t a, size_t b)
{
	const struct wait_code *x = wait_walk_code(&p->walk[a]), *y = wait_walk_code(&p->walk[b]);

	return x && y && wait_meet_same(p->profile, x, p->number[a], y, p->number[b]);
}

/*
 * The two to compare: of those that stand for ever the one that most others agree with, which is
 * taken to be right, and a channel that it waits for. An unknown one never is.
 */
static void two(const struct product *p, size_t *a, size_t *b)
{
	uint32_t stuck = product_stuck(p), with;

	if (!stuck)
		stuck = product_waiting(p);
	size_t most = 0;

	*a = *b = 0;
	for (size_t i = 0; i < p->n; i++) {
		size_t agree = 1;

		if (!(stuck >> i & 1))
			continue;
		for (size_t k = 0; k < p->n; k++)
			agree += same(p, i, k);
		if (agree > most) {
			most = agree;
			*a = i;
		}
	}
	with = wait_meet_partners(p->profile, wait_walk_code(&p->walk[*a]), p->number[*a]);
	for (size_t k = p->n; k--;) {
		enum wait_walk_kind kind = p->walk[k].kind;

		if (k == *a || !(with >> p->number[k] & 1) || same(p, *a, k))
			continue;
		if (kind != WAIT_WALK_UNKNOWN && kind != WAIT_WALK_LONG)
			*b = k;
	}
	if (*b == *a)
		*b = *a ? 0 : 1;
}

/* Nobody sends what a waits for. */
static bool no_signal(const struct product *p, struct wait_result *out, size_t a, size_t b)
{
	const struct wait_code *code = wait_walk_code(&p->walk[a]);
	const struct wait_code *has = wait_walk_code(&p->walk[b]);
	const struct wait_walk *w = &p->walk[b];
	struct wait_place at = {0};

	if (code->kind != WAIT_CODE_RECEIVE)
		return false;
	if (w->kind == WAIT_WALK_END && w->at != WAIT_NOWHERE)
		at = wait_flow_place(w->f, w->at);
	repair_set(out, FINDING_WAIT_MISSING, b, has ? &has->at : &at, has ? has->code : 0, a,
	    &code->at, wait_meet_sender(p->profile, code->code));
	return true;
}

/*
 * Which way was taken at a condition on unknown data decides. The channel that lacks a code took
 * the way around it; or, where it met no condition, its mate took the way to it.
 */
static void branch(const struct product *p, struct wait_result *out)
{
	size_t a = (size_t)out->channel_a, b = (size_t)out->channel_b, k = 0;
	struct wait_result was = *out;

	if (was.repair == FINDING_WAIT_MISSING && !out->run[a].choices && out->run[b].choices) {
		repair_set(out, FINDING_WAIT_BRANCH, b, &out->run[b].last, was.code_b, a,
		    &was.place_a, was.code_a);
		return;
	}
	if (out->run[a].choices) {
		repair_set(
		    out, FINDING_WAIT_BRANCH, a, &out->run[a].last, 0, b, &was.place_b, was.code_b);
		return;
	}
	if (out->run[b].choices) {
		repair_set(
		    out, FINDING_WAIT_BRANCH, b, &out->run[b].last, 0, a, &was.place_a, was.code_a);
		return;
	}
	while (k < p->n && !out->run[k].choices)
		k++;
	if (k < p->n)
		repair_set(
		    out, FINDING_WAIT_BRANCH, k, &out->run[k].last, 0, b, &was.place_b, was.code_b);
}

bool wait_repair_find(const struct product *p, struct wait_result *out)
{
	size_t a, b;
	int rc;

	two(p, &a, &b);
	if (endless(p, out, a) || partners(p, out, a))
		return true;
	if (!no_signal(p, out, a, b)) {
		rc = repair_repeats(p, out, a, b);
		if (rc == 0)
			rc = repair_repeats(p, out, b, a);
		if (rc < 0 || (rc == 0 && !repair_align(p, out, a, b)))
			return false;
	}
	if (out->verdict == VERDICT_CANNOT_TELL)
		branch(p, out);
	return true;
}
