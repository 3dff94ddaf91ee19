/*
 * From the rung that fails on, both runs are read a little further, and each possible single
 * mistake is tried: the one after which the two agree for longest is the likeliest. Nothing here
 * proves anything; it tells a person where to look.
 */
#include "repair.h"

static void set(struct wait_result *out, enum finding_id id, size_t a,
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

/* The code of the channel's last rung, or NULL. */
static const struct wait_code *last_code(const struct wait_result *out, size_t channel)
{
	for (size_t i = out->rungs - 1; i--;)
		if (out->rung[i].channel[channel].takes_part)
			return out->rung[i].channel[channel].code;
	return NULL;
}

/* Where b has a's next code, when a has b's next code at the same distance and the rest in between
 * is equal; 0 none. */
static size_t swapped(const struct ahead *a, const struct ahead *b)
{
	for (size_t k = 1; k < a->n && k < b->n; k++) {
		if (a->code[k] == b->code[0] && b->code[k] == a->code[0])
			return k;
		if (a->code[k] != b->code[k])
			return 0;
	}
	return 0;
}

/* A slash block of a that a switch skipped just now: with the code that the mate waits for, or with
 * a call, a jump or an end. */
static bool by_slash(struct wait_result *out, size_t a, const struct wait_walk *w, size_t b,
    const struct ahead *mate, bool code)
{
	for (size_t i = 0; i < w->skips; i++) {
		const struct wait_instr *e = &w->f->instr[w->skipped[i]];
		struct wait_place at = wait_flow_place(w->f, w->skipped[i]);
		bool is_code = e->op == WAIT_OP_CODE;
		uint32_t c = is_code ? w->f->code[e->a].code : 0;

		if (is_code != code || e->op == WAIT_OP_SET || (code && c != mate->code[0]))
			continue;
		set(out, FINDING_WAIT_SKIPPED, a, &at, c, b, &mate->at[0], mate->code[0]);
		return true;
	}
	return false;
}

/* The code that b waits for stands in a's program, after its end. */
static bool after_end(struct wait_result *out, size_t a, const struct wait_walk *w, size_t b,
    const struct ahead *mate)
{
	const struct wait_flow *f = w->f;

	if (w->kind != WAIT_WALK_END || w->at == WAIT_NOWHERE || !mate->n)
		return false;
	for (uint32_t i = w->at + 1; i < f->unit[w->unit].end; i++) {
		const struct wait_code *c;

		if (f->instr[i].op != WAIT_OP_CODE)
			continue;
		c = &f->code[f->instr[i].a];
		if (c->code != mate->code[0])
			continue;
		set(out, FINDING_WAIT_AFTER_END, a, &c->at, c->code, b, &mate->at[0],
		    mate->code[0]);
		return true;
	}
	return false;
}

/* b lacks a's next code; or a has it twice. */
static void lacks(
    struct wait_result *out, size_t a, const struct ahead *ha, size_t b, const struct ahead *hb)
{
	const struct wait_code *before = last_code(out, a);

	if (before && ha->code[0] == before->code)
		set(out, FINDING_WAIT_DOUBLED, a, &ha->at[0], ha->code[0], b, &hb->at[0],
		    hb->code[0]);
	else
		set(out, FINDING_WAIT_MISSING, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
}

/* The single mistake after which most agrees. */
static void likeliest(
    struct wait_result *out, size_t a, const struct ahead *ha, size_t b, const struct ahead *hb)
{
	size_t k = swapped(ha, hb);
	size_t swap = k ? repair_agree(ha, k + 1, hb, k + 1) : 0;
	size_t b_lacks = ha->n ? repair_agree(ha, 1, hb, 0) : 0;
	size_t a_lacks = hb->n ? repair_agree(ha, 0, hb, 1) : 0;
	size_t differs = ha->n && hb->n ? repair_agree(ha, 1, hb, 1) : 0;

	if (k && swap >= b_lacks && swap >= a_lacks && swap >= differs)
		set(out, FINDING_WAIT_SWAPPED, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
	else if (ha->n && hb->n && differs >= b_lacks && differs >= a_lacks)
		set(out, FINDING_WAIT_DIFFERS, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
	else if (ha->n && (b_lacks >= a_lacks || !hb->n))
		lacks(out, a, ha, b, hb);
	else
		lacks(out, b, hb, a, ha);
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
		set(out, FINDING_LOOP_ENDLESS, k, &at, 0, a, &code->at, code->code);
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
		for (int turn = 0; turn < 2; turn++, c = last_code(out, k)) {
			if (!c || c->kind != WAIT_CODE_MEET || c->code != code->code ||
			    wait_meet_partners(p->profile, c, p->number[k]) == with)
				continue;
			set(out, FINDING_WAIT_PARTNERS, a, &code->at, code->code, k, &c->at,
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
	set(out, FINDING_WAIT_MISSING, b, has ? &has->at : &at, has ? has->code : 0, a, &code->at,
	    wait_meet_sender(p->profile, code->code));
	return true;
}

/* Both from their beginning to the first code that differs, or to where one begins again. */
static void first_round(struct wait_walk *a, struct wait_walk *b)
{
	enum { CODES_MAX = 1000000 };

	wait_walk_restart(a, a->on);
	wait_walk_restart(b, b->on);
	for (int n = 0; n < CODES_MAX; n++) {
		const struct wait_code *x, *y;

		repair_next(a);
		repair_next(b);
		x = wait_walk_code(a);
		y = wait_walk_code(b);
		if (!x || !y || x->code != y->code)
			return;
	}
}

/*
 * Programs that begin again meet in step or not. Where they do not, and the first rounds of both
 * differ, the difference of these is the mistake; whatever the run came to later is not.
 */
static bool compare_rounds(const struct product *p, struct wait_result *out, size_t a, size_t b)
{
	struct wait_walk wa, wb;
	struct ahead ha, hb;
	bool ok = false;

	if (!wait_walk_copy(&wa, &p->walk[a]))
		return false;
	if (!wait_walk_copy(&wb, &p->walk[b])) {
		wait_walk_end(&wa);
		return false;
	}
	first_round(&wa, &wb);
	ok = repair_ahead(&ha, p, &wa, a, b) && repair_ahead(&hb, p, &wb, b, a);
	if (ok)
		likeliest(out, a, &ha, b, &hb);
	wait_walk_end(&wa);
	wait_walk_end(&wb);
	return ok;
}

static bool compare(const struct product *p, struct wait_result *out, size_t a, size_t b)
{
	const struct wait_walk *wa = &p->walk[a], *wb = &p->walk[b];
	struct ahead ha, hb;

	if (wb->round || (wa->round && wb->kind != WAIT_WALK_END))
		return compare_rounds(p, out, a, b);
	if (!repair_ahead(&ha, p, wa, a, b) || !repair_ahead(&hb, p, wb, b, a))
		return false;
	if (wa->round) {
		set(out, FINDING_END_DIFFERS, b, &hb.at[0], hb.code[0], a, &ha.at[0], ha.code[0]);
		return true;
	}
	for (int code = 1; code >= 0; code--)
		if (by_slash(out, a, wa, b, &hb, code) || by_slash(out, b, wb, a, &ha, code))
			return true;
	if (!after_end(out, a, wa, b, &hb) && !after_end(out, b, wb, a, &ha))
		likeliest(out, a, &ha, b, &hb);
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
		set(out, FINDING_WAIT_BRANCH, b, &out->run[b].last, was.code_b, a, &was.place_a,
		    was.code_a);
		return;
	}
	if (out->run[a].choices) {
		set(out, FINDING_WAIT_BRANCH, a, &out->run[a].last, 0, b, &was.place_b, was.code_b);
		return;
	}
	if (out->run[b].choices) {
		set(out, FINDING_WAIT_BRANCH, b, &out->run[b].last, 0, a, &was.place_a, was.code_a);
		return;
	}
	while (k < p->n && !out->run[k].choices)
		k++;
	if (k < p->n)
		set(out, FINDING_WAIT_BRANCH, k, &out->run[k].last, 0, b, &was.place_b, was.code_b);
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
		if (rc < 0 || (rc == 0 && !compare(p, out, a, b)))
			return false;
	}
	if (out->verdict == VERDICT_CANNOT_TELL)
		branch(p, out);
	return true;
}
