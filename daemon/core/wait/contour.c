/*
 * Contours of roughing and finishing cycles: G71 P100 Q200 is followed by the blocks N100 to N200,
 * which the cycle cuts along and the program then passes over (common practice on lathes, G70 to
 * G73). What stands there besides motion is ignored, repeated or refused, as the control likes.
 *
 *     cycle names P, Q --> armed --N = P--> inside --N = Q--> met --G71..G73 again--> armed
 */
#include "build.h"

/* A place in the table for P and Q: their own, a free one, or that of a contour that was met. */
static struct wait_contour *place(struct wait_build *f, const struct wait_look *k)
{
	struct wait_contour *met = NULL;

	for (size_t i = 0; i < f->contours; i++) {
		struct wait_contour *c = &f->contour[i];

		if (c->from == k->from && c->to == k->to)
			return c;
		if (c->met)
			met = c;
	}
	if (f->contours < WAIT_CONTOURS_MAX)
		return &f->contour[f->contours++];
	return met;
}

bool wait_contour_name(struct wait_build *f, const struct wait_look *k)
{
	size_t before = f->contours;
	struct wait_contour *c = place(f, k);
	bool known = c && f->contours == before && c->from == k->from && c->to == k->to;

	if (!c)
		return false;
	/* the finishing cycle comes after its contour */
	if (known && k->finishes)
		return true;
	if (!known || c->met)
		f->armed++;
	*c = (struct wait_contour){.from = k->from, .to = k->to};
	return true;
}

void wait_contour_begin(struct wait_build *f)
{
	f->contours = f->armed = 0;
	f->inside = f->over = false;
}

void wait_contour_block(struct wait_build *f, int64_t sequence)
{
	if (f->over)
		f->inside = f->over = false;
	if (sequence < 0)
		return;
	for (size_t i = 0; i < f->contours && f->armed && !f->inside; i++) {
		struct wait_contour *c = &f->contour[i];

		if (c->met || c->from != sequence)
			continue;
		c->met = true;
		f->armed--;
		f->inside = true;
		f->contour_end = c->to;
	}
	f->over = f->inside && sequence == f->contour_end;
}
