/*
 * Contours of roughing and finishing cycles: G71 P100 Q200 is followed by the blocks N100 to N200,
 * which the cycle cuts along and the program then passes over (common practice on lathes, G70 to
 * G73). What stands there besides motion is ignored, repeated or refused, as the control likes. A
 * finishing cycle may name a contour that stands before it.
 *
 *     cycle names P, Q --> armed --N = P--> inside --N = Q--> met --G71..G73 again--> armed
 *                      \-> both stand before it: looked through --> met
 */
#include "build.h"

static const char counts[] =
    "a wait code inside the contour of a cycle: whether and how often it counts is not known";
static const char call[] = "a call inside the contour of a cycle";

/* Runs of labels that are looked through for a contour before its cycle, until the program ends. */
enum { NEAR = 4096 };

/* A place in the table for P and Q: their own, a free one, or that of a contour that was met. */
static struct wait_contour *place(struct wait_build *b, const struct wait_look *k)
{
	struct wait_contour *met = NULL;

	for (size_t i = 0; i < b->contours; i++) {
		struct wait_contour *c = &b->contour[i];

		if (c->from == k->from && c->to == k->to)
			return c;
		if (c->met)
			met = c;
	}
	if (b->contours < WAIT_CONTOURS_MAX)
		return &b->contour[b->contours++];
	return met;
}

/* The last of the first *runs of the program that holds label n; how many stand up to it. False
 * when there is none among the last most. */
static bool last(const struct wait_flow *f, uint32_t n, uint32_t *runs, uint32_t most)
{
	const struct wait_unit *u = &f->unit[f->units - 1];

	for (uint32_t i = 0; *runs && i < most; i++, --*runs)
		if (wait_label_has(&f->labels[u->label + *runs - 1], n))
			return true;
	return false;
}

/* The instructions of a contour that was passed before its cycle: [*from, *to). */
static bool before(const struct wait_flow *f, const struct wait_contour *c, uint32_t most,
    uint32_t *from, uint32_t *to)
{
	const struct wait_unit *u = &f->unit[f->units - 1];
	uint32_t runs = u->labels;

	while (runs && f->labels[u->label + runs - 1].at > c->instr)
		runs--;
	if (!last(f, c->to, &runs, most))
		return false;
	*to = f->labels[u->label + runs - 1].at;
	/* the last block of the contour itself */
	while (*to < f->instrs && f->instr[*to].sequence == (int64_t)c->to)
		++*to;
	if (!last(f, c->from, &runs, most))
		return false;
	*from = f->labels[u->label + runs - 1].at;
	return true;
}

/* False without memory. */
static bool look_through(
    struct wait_flow *f, const struct wait_contour *c, uint32_t from, uint32_t to)
{
	for (uint32_t i = from; i < to; i++) {
		const struct wait_instr *e = &f->instr[i];

		if (e->op == WAIT_OP_CALL && !f->call[e->a].why)
			f->call[e->a].why = call;
		if (e->op == WAIT_OP_CODE)
			return wait_build_lost(f, c->instr, counts);
	}
	return true;
}

bool wait_contour_name(struct wait_flow *f, const struct wait_look *k)
{
	struct wait_build *b = f->build;
	size_t had = b->contours;
	struct wait_contour *c = place(b, k);
	bool known = c && b->contours == had && c->from == k->from && c->to == k->to;
	struct wait_instr *i;
	uint32_t from, to;

	if (!f->contour.line)
		f->contour = (struct wait_place){b->block->line, 1, b->sequence, 0};
	if (!c)
		return wait_build_unknown(f, 1, "more cycles with a contour than are followed");
	/* the finishing cycle comes after its contour */
	if (known && k->finishes)
		return true;
	i = wait_build_add(f, WAIT_OP_MOVE, 1);
	if (!i)
		return false;
	if (!known || c->met)
		b->armed++;
	*c =
	    (struct wait_contour){.from = k->from, .to = k->to, .instr = (uint32_t)(f->instrs - 1)};
	if (!k->finishes || !before(f, c, NEAR, &from, &to))
		return true;
	c->met = true;
	b->armed--;
	return look_through(f, c, from, to);
}

static void forget(struct wait_build *b)
{
	b->contours = b->armed = 0;
	b->inside = b->over = false;
}

/* Contours that did not come behind their cycle, or have no end. */
bool wait_contour_over(struct wait_flow *f)
{
	struct wait_build *b = f->build;
	uint32_t from, to;
	bool ok = true;

	for (size_t i = 0; ok && i < b->contours && !f->unit[f->units - 1].cut; i++) {
		const struct wait_contour *c = &b->contour[i];
		uint32_t unit = (uint32_t)f->units - 1;

		if (wait_flow_label(f, unit, c->from, NULL) == WAIT_NOWHERE ||
		    wait_flow_label(f, unit, c->to, NULL) == WAIT_NOWHERE)
			ok = wait_build_lost(f, c->instr, WAIT_NO_CONTOUR);
		else if (!c->met && before(f, c, UINT32_MAX, &from, &to))
			ok = look_through(f, c, from, to);
	}
	forget(b);
	return ok;
}

void wait_contour_block(struct wait_build *b, int64_t sequence)
{
	if (b->over)
		b->inside = b->over = false;
	if (sequence < 0)
		return;
	for (size_t i = 0; i < b->contours && b->armed && !b->inside; i++) {
		struct wait_contour *c = &b->contour[i];

		if (c->met || c->from != sequence)
			continue;
		c->met = true;
		b->armed--;
		b->inside = true;
		b->contour_end = c->to;
	}
	b->over = b->inside && sequence == b->contour_end;
}
