/*
 * From the first difference on, both runs are read a little further, and each possible single
 * mistake is tried: the one after which the two agree for longest is the likeliest. Nothing here
 * proves anything; it tells a person where to look.
 */
#include "repair.h"

#include <string.h>

enum { AHEAD = 64 };

/* Codes from the difference on; a run that ends, or is not known further, ends with 0. */
struct ahead {
	uint32_t code[AHEAD + 1];
	struct wait_place at[AHEAD + 1];
	size_t n; /* codes before the 0, or AHEAD */
	bool ended;
};

static bool look_ahead(struct ahead *h, const struct wait_walk *from)
{
	struct wait_walk w;

	memset(h, 0, sizeof *h);
	if (!wait_walk_copy(&w, from))
		return false;
	while (h->n < AHEAD && w.kind == WAIT_WALK_CODE) {
		const struct wait_code *c = wait_walk_code(&w);
		h->code[h->n] = c->code;
		h->at[h->n++] = c->at;
		wait_walk_next(&w);
	}
	h->ended = w.kind == WAIT_WALK_END;
	if (h->ended && w.at)
		h->at[h->n] = w.at->at;
	wait_walk_end(&w);
	return true;
}

/* How many codes agree from a's i and b's k on; far more when they agree to the end, or as far as
 * we looked. */
static size_t agree(const struct ahead *a, size_t i, const struct ahead *b, size_t k)
{
	size_t n = 0;

	if (i > a->n || k > b->n)
		return 0;
	while (i < a->n && k < b->n && a->code[i] == b->code[k]) {
		i++;
		k++;
		n++;
	}
	if ((i == a->n && a->n == AHEAD) || (k == b->n && b->n == AHEAD))
		return n + AHEAD;
	return i == a->n && k == b->n && a->ended && b->ended ? n + AHEAD : n;
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

static void set(struct wait_result *out, enum finding_id id, int a, const struct wait_place *at_a,
    uint32_t code_a, int b, const struct wait_place *at_b, uint32_t code_b)
{
	static const struct wait_place end = {.sequence = -1};

	out->repair = id;
	out->channel_a = a;
	out->channel_b = b;
	out->place_a = at_a && at_a->line ? *at_a : end;
	out->place_b = at_b && at_b->line ? *at_b : end;
	out->code_a = code_a;
	out->code_b = code_b;
}

/* A slash block of w that a switch skipped just now: with the code that the mate waits for, or with
 * a call or an end. */
static bool by_slash(struct wait_result *out, int a, const struct wait_walk *w, int b,
    const struct ahead *mate, bool code)
{
	for (size_t i = 0; i < w->skips; i++) {
		const struct wait_event *e = w->skipped[i];
		bool is_code = e->kind == WAIT_EVENT_CODE;
		uint32_t c = is_code ? w->f->code[e->target].code : 0;
		if (is_code != code || (code && c != mate->code[0]))
			continue;
		set(out, FINDING_WAIT_SKIPPED, a, &e->at, c, b, &mate->at[0], mate->code[0]);
		return true;
	}
	return false;
}

/* The code that b waits for stands in a's main program, after its end. */
static bool after_end(
    struct wait_result *out, int a, const struct wait_walk *w, int b, const struct ahead *mate)
{
	const struct wait_unit *u = &w->f->unit[w->unit];

	if (w->kind != WAIT_WALK_END || !w->at || !mate->n)
		return false;
	for (size_t i = (size_t)(w->at - w->f->event) + 1; i < u->end; i++) {
		const struct wait_event *e = &w->f->event[i];
		const struct wait_code *c;

		if (e->kind != WAIT_EVENT_CODE)
			continue;
		c = &w->f->code[e->target];
		if (c->code != mate->code[0])
			continue;
		set(out, FINDING_WAIT_AFTER_END, a, &c->at, c->code, b, &mate->at[0],
		    mate->code[0]);
		return true;
	}
	return false;
}

/* b lacks a's next code; or a has it twice. */
static void lacks(struct wait_result *out, int a, const struct ahead *ha, int b,
    const struct ahead *hb, uint32_t before)
{
	if (ha->code[0] == before)
		set(out, FINDING_WAIT_DOUBLED, a, &ha->at[0], ha->code[0], b, &hb->at[0],
		    hb->code[0]);
	else
		set(out, FINDING_WAIT_MISSING, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
}

/* The single mistake after which most agrees. */
static void likeliest(struct wait_result *out, int a, const struct ahead *ha, int b,
    const struct ahead *hb, uint32_t before)
{
	size_t k = swapped(ha, hb);
	size_t swap = k ? agree(ha, k + 1, hb, k + 1) : 0;
	size_t b_lacks = ha->n ? agree(ha, 1, hb, 0) : 0;
	size_t a_lacks = hb->n ? agree(ha, 0, hb, 1) : 0;
	size_t differs = ha->n && hb->n ? agree(ha, 1, hb, 1) : 0;

	if (k && swap >= b_lacks && swap >= a_lacks && swap >= differs)
		set(out, FINDING_WAIT_SWAPPED, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
	else if (ha->n && hb->n && differs >= b_lacks && differs >= a_lacks)
		set(out, FINDING_WAIT_DIFFERS, b, &hb->at[0], hb->code[0], a, &ha->at[0],
		    ha->code[0]);
	else if (ha->n && (b_lacks >= a_lacks || !hb->n))
		lacks(out, a, ha, b, hb, before);
	else
		lacks(out, b, hb, a, ha, before);
}

bool wait_repair_find(struct wait_result *out, int a, const struct wait_walk *wa, int b,
    const struct wait_walk *wb, uint32_t before)
{
	struct ahead ha, hb;

	if (!look_ahead(&ha, wa) || !look_ahead(&hb, wb))
		return false;
	if (wa->round || wb->round) {
		/* a waits: it is the one that began again */
		set(out, FINDING_END_DIFFERS, b, &hb.at[0], hb.code[0], a, &ha.at[0], ha.code[0]);
		return true;
	}
	for (int code = 1; code >= 0; code--)
		if (by_slash(out, a, wa, b, &hb, code) || by_slash(out, b, wb, a, &ha, code))
			return true;
	if (after_end(out, a, wa, b, &hb) || after_end(out, b, wb, a, &ha))
		return true;
	likeliest(out, a, &ha, b, &hb, before);
	return true;
}
