/*
 * From the rung that fails on, both runs are read a little further, and each possible single
 * mistake is tried: the one after which the two agree for longest is the likeliest. Nothing here
 * proves anything; it tells a person where to look.
 */
#include "repair.h"

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

/* Where b has a's next code, when a has all that b has in between behind it, one after the other,
 * and all that follows agrees: the code was moved. 0 none. */
static size_t moved(const struct ahead *a, const struct ahead *b)
{
	for (size_t k = 1; k < a->n && k < b->n && a->code[k] == b->code[k - 1]; k++)
		if (b->code[k] == a->code[0])
			return repair_whole(repair_agree(a, k + 1, b, k + 1)) ? k : 0;
	return 0;
}

/* Where two codes or more stand in another order, as above. */
static size_t reordered(const struct ahead *a, const struct ahead *b)
{
	size_t k = swapped(a, b);

	if (!k)
		k = moved(a, b);
	return k ? k : moved(b, a);
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
		repair_set(out, FINDING_WAIT_SKIPPED, a, &at, c, b, &mate->at[0], mate->code[0]);
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
		repair_set(out, FINDING_WAIT_AFTER_END, a, &c->at, c->code, b, &mate->at[0],
		    mate->code[0]);
		return true;
	}
	return false;
}

/* b lacks a's next code; or a has it twice: behind before, and written there once more. */
static void lacks(struct wait_result *out, size_t a, const struct ahead *ha, size_t b,
    const struct ahead *hb, const struct wait_code *before)
{
	if (before && ha->code[0] == before->code && !repair_same_place(&before->at, &ha->at[0]))
		repair_set(out, FINDING_WAIT_DOUBLED, a, &ha->at[0], ha->code[0], b, &hb->at[0],
		    hb->code[0]);
	else
		repair_set(out, FINDING_WAIT_MISSING, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
}

/* How much agrees without the code at which a stands now. */
static size_t without(const struct ahead *a, const struct ahead *b)
{
	struct ahead e;

	if (!a->n)
		return 0;
	e = repair_edit(a, &a->at[0], 0);
	return repair_agree(&e, 0, b, 0);
}

/* How much agrees with b's code in place of that at which a stands now. */
static size_t instead(const struct ahead *a, const struct ahead *b)
{
	struct ahead e;

	if (!a->n || !b->n)
		return 0;
	e = repair_edit(a, &a->at[0], b->code[0]);
	return repair_agree(&e, 0, b, 0) - 1;
}

/* a lacks several codes of b in a row, and all that follows agrees. */
static bool gap(const struct ahead *a, const struct ahead *b)
{
	for (size_t k = 2; a->n && k < b->n; k++)
		if (a->code[0] == b->code[k] && repair_whole(repair_agree(a, 0, b, k)))
			return true;
	return false;
}

/* Wait codes are mostly numbered upward: the next one stands between its neighbours. */
static bool in_order(const struct ahead *h, const struct wait_code *before)
{
	return (!before || before->code < h->code[0]) && (h->n < 2 || h->code[0] < h->code[1]);
}

/* Both have a code, and one of them is wrong: that of b, where nothing speaks against a's. */
static void differ(const struct product *p, struct wait_result *out, size_t a,
    const struct ahead *ha, size_t b, const struct ahead *hb,
    const struct wait_code *const before[2])
{
	/* of more than two channels, a is one that most agree with */
	if (p->n == 2 && !in_order(ha, before[0]) && in_order(hb, before[1]))
		repair_set(out, FINDING_WAIT_DIFFERS, a, &ha->at[0], ha->code[0], b, &hb->at[0],
		    hb->code[0]);
	else
		repair_set(out, FINDING_WAIT_DIFFERS, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
}

/* The single mistake after which most agrees. before[0] and before[1]: where a and b met last. */
static void likeliest(const struct product *p, struct wait_result *out, size_t a,
    const struct ahead *ha, size_t b, const struct ahead *hb,
    const struct wait_code *const before[2])
{
	size_t k = reordered(ha, hb);
	size_t swap = k ? repair_agree(ha, k + 1, hb, k + 1) : 0;
	size_t b_lacks = without(ha, hb), a_lacks = without(hb, ha);
	size_t differs = instead(hb, ha), other = instead(ha, hb);
	bool none;

	if (other > differs)
		differs = other;
	none = !repair_whole(b_lacks) && !repair_whole(a_lacks) && !repair_whole(differs);
	if (k && swap >= b_lacks && swap >= a_lacks && swap >= differs)
		repair_set(out, FINDING_WAIT_SWAPPED, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
	else if (none && gap(ha, hb))
		lacks(out, b, hb, a, ha, before[1]);
	else if (none && gap(hb, ha))
		lacks(out, a, ha, b, hb, before[0]);
	else if (ha->n && hb->n && differs >= b_lacks && differs >= a_lacks &&
	         !repair_whole(b_lacks) && !repair_whole(a_lacks))
		differ(p, out, a, ha, b, hb, before);
	else if (ha->n && (b_lacks >= a_lacks || !hb->n))
		lacks(out, a, ha, b, hb, before[0]);
	else
		lacks(out, b, hb, a, ha, before[1]);
}

/* Both from their beginning to the first code that differs, or to where one begins again. before:
 * the last codes that do not. */
static void first_round(struct wait_walk *a, struct wait_walk *b, const struct wait_code *before[2])
{
	enum { CODES_MAX = 1 << 17 };

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
		before[0] = x;
		before[1] = y;
	}
}

/*
 * Programs that begin again meet in step or not. Where they do not, and the first rounds of both
 * differ, the difference of these is the mistake; whatever the run came to later is not.
 */
static bool compare_rounds(const struct product *p, struct wait_result *out, size_t a, size_t b)
{
	const struct wait_code *before[2] = {NULL, NULL};
	struct wait_walk wa, wb;
	struct ahead ha, hb;
	bool ok;

	if (!wait_walk_copy(&wa, &p->walk[a]))
		return false;
	if (!wait_walk_copy(&wb, &p->walk[b])) {
		wait_walk_end(&wa);
		return false;
	}
	first_round(&wa, &wb, before);
	ok = repair_ahead(&ha, p, &wa, a, b) && repair_ahead(&hb, p, &wb, b, a);
	if (ok)
		likeliest(p, out, a, &ha, b, &hb, before);
	wait_walk_end(&wa);
	wait_walk_end(&wb);
	return ok;
}

bool repair_align(const struct product *p, struct wait_result *out, size_t a, size_t b)
{
	const struct wait_walk *wa = &p->walk[a], *wb = &p->walk[b];
	const struct wait_code *before[2] = {repair_last_code(out, a), repair_last_code(out, b)};
	struct ahead ha, hb;

	if (wb->round || (wa->round && wb->kind != WAIT_WALK_END))
		return compare_rounds(p, out, a, b);
	if (!repair_ahead(&ha, p, wa, a, b) || !repair_ahead(&hb, p, wb, b, a))
		return false;
	if (wa->round) {
		repair_set(
		    out, FINDING_END_DIFFERS, b, &hb.at[0], hb.code[0], a, &ha.at[0], ha.code[0]);
		return true;
	}
	for (int code = 1; code >= 0; code--)
		if (by_slash(out, a, wa, b, &hb, code) || by_slash(out, b, wb, a, &ha, code))
			return true;
	if (!after_end(out, a, wa, b, &hb) && !after_end(out, b, wb, a, &ha))
		likeliest(p, out, a, &ha, b, &hb, before);
	return true;
}
