/* The highest speeds that the program asks for, and whether G96 has a clamp. */
#include "setup_inside.h"

#define METRES_PER_FOOT 0.3048

static void most(struct setup_most *m, double v, const struct setup_place *at)
{
	if (!m->seen || v > m->v)
		*m = (struct setup_most){true, v, *at};
}

/* S is a clamp in a block with G50 or G92 (common practice). */
static bool clamps(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++) {
		int code = b->word[i].letter == 'G' ? modal_code(&b->word[i]) : -1;

		if (code == 500 || code == 920)
			return true;
	}
	return false;
}

void setup_speed_block(struct setup_way *w)
{
	const struct modal *m = &w->run.modal;
	struct setup_channel *c = w->out;
	const struct nc_word *s = nc_block_word(w->step.block, 'S');
	bool clamp = s && clamps(w->step.block);
	const struct modal_number *n = clamp ? &m->clamp : &m->speed;
	double v = n->v;

	if (!s)
		return;
	if (n->state != MODAL_KNOWN || (!clamp && m->speed_mode == MODAL_LOST)) {
		c->speeds_unknown++;
	} else if (clamp) {
		most(&c->clamp, v, &w->at);
	} else if (m->speed_mode == 960) {
		v *= m->units == 200 ? METRES_PER_FOOT : 1;
		most(&c->surface, v, &w->at);
		if (m->clamp.state == MODAL_ABSENT && !c->unclamped.seen)
			most(&c->unclamped, v, &w->at);
	} else {
		most(&c->speed, v, &w->at);
	}
}
