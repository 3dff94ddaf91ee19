/* Blocks whose axis words are data: dwells, offsets, places set or shifted, scaled axes. */
#include "modal_inside.h"

/* Codes that scale, turn polar or go on a cylinder, and those that end it. */
static void transform(struct modal *m, const struct modal_words *w)
{
	static const int on[] = {510, 160, 121, 1120, 901}, off[] = {150, 131, 1130, 911};
	const struct nc_word *c = modal_words_of(w, 'C');
	bool was = m->transformed;

	for (size_t i = 0; i < w->gs; i++) {
		for (size_t k = 0; k < sizeof(on) / sizeof(*on); k++)
			m->transformed |= w->g[i] == on[k];
		for (size_t k = 0; k < sizeof(off) / sizeof(*off); k++)
			m->transformed &= w->g[i] != off[k];
		if (w->g[i] == 500 && !m->channel->diameter)
			m->transformed = false;
		if (w->g[i] == 71 || w->g[i] == 1070)
			m->transformed = !c || c->flags & NC_COMPUTED || c->mantissa != 0;
	}
	if (m->transformed != was)
		modal_place_forget(m);
}

bool modal_data(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	bool data = false, preset_here = false;

	transform(m, w);
	for (size_t i = 0; i < w->gs; i++) {
		int g = w->g[i];

		switch (g) {
		case 40:  /* dwell */
		case 220: /* limits of a zone */
			data = true;
			break;
		case 920:
			preset_here |=
			    !m->channel->diameter || m->family == MODAL_FAMILY_B || !w->axes;
			break;
		case 500:
			preset_here |= m->channel->diameter;
			data = true;
			break;
		case 100:
		case 520:
		case 680:
		case 690:
		case 921:
		case 922:
		case 923:
			modal_place_forget(m);
			data = true;
			break;
		case 510:
		case 511:
		case 501:
		case 71:
		case 1070:
			data = true;
			break;
		}
	}
	if (preset_here)
		modal_place_preset(m, w, s);
	return data || preset_here;
}
