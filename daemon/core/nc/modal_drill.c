/* Drilling cycles of a channel without diameters (NISTIR 6556, 3.5.16). */
#include <math.h>
#include <string.h>
#include "modal_inside.h"

#define LOST ((struct modal_number){.state = MODAL_UNKNOWN})

static struct modal_number sum(const struct modal_number *n, const struct modal_place *p, bool add)
{
	struct modal_number out = *n;

	if (!add || n->state != MODAL_KNOWN)
		return out;
	out.v += p->at;
	if (!p->known)
		out.state = MODAL_UNKNOWN;
	return out;
}

/* Words of a drilling cycle stay until it ends (NISTIR 6556, 3.5.16). */
static void drill_words(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	static const char letter[] = "XYZ", way[] = "UVW";
	struct modal_drill *d = &m->drill;
	const struct nc_word *bottom = modal_words_of(w, letter[d->axis]);
	const struct nc_word *r = modal_words_of(w, 'R'), *q = modal_words_of(w, 'Q');
	const struct nc_word *p = modal_words_of(w, 'P');
	bool relative = m->distance == 910, known = relative || m->distance == 900;
	struct modal_number n;

	if (r) {
		n = known ? modal_length(m, r) : LOST;
		d->level = sum(&n, &d->initial, relative);
	}
	if (bottom || modal_words_of(w, way[d->axis])) {
		struct modal_place level = {
		    .known = d->level.state == MODAL_KNOWN, .at = d->level.v};

		n = bottom && known ? modal_length(m, bottom) : LOST;
		d->bottom = sum(&n, &level, relative);
	}
	if (q)
		d->peck = modal_length(m, q);
	if (p) {
		d->dwell = modal_plain(p);
		if (!d->dwell.point)
			d->dwell.v /= 1000;
	}
	s->repeat = modal_words_repeat(w);
}

/* Where the drilled axis stands behind a cycle: G98 at the place before it, G99 at R; never below
 * R. */
static struct modal_place drill_back(const struct modal *m)
{
	const struct modal_drill *d = &m->drill;
	struct modal_place p = {.known = d->level.state == MODAL_KNOWN, .at = d->level.v};

	if (m->back == 990)
		return p;
	if (m->back != 980 || !d->initial.known)
		p.known = false;
	else
		p.at = fmax(p.at, d->initial.at);
	p.shifted = d->initial.shifted;
	return p;
}

void modal_drill(struct modal *m, const struct modal_words *w, struct modal_step *s, bool begins)
{
	int axis = m->plane == 190 ? MODAL_X : m->plane == 180 ? MODAL_Y : MODAL_Z;

	modal_place_targets(m, w, s);
	if (begins)
		m->drill = (struct modal_drill){.axis = axis, .initial = m->place[axis]};
	if (m->plane == MODAL_LOST || m->drill.axis != axis || m->motion == 870 ||
	    m->motion == 880) {
		s->named[axis] = true;
		modal_place_forget_named(m, s);
		s->act = MODAL_CYCLE;
		return;
	}
	s->named[axis] = false;
	drill_words(m, w, s);
	if (s->repeat == 0 || !w->axes) {
		memset(s->named, 0, sizeof(s->named));
		return;
	}
	s->act = MODAL_DRILL;
	for (int i = 0; i < MODAL_AXES; i++) {
		struct modal_number n = s->way[i];

		if (!s->named[i] || n.state != MODAL_KNOWN || m->distance != 910)
			continue;
		n.v *= (double)s->repeat;
		modal_place_by_way(s, i, &n);
	}
	s->to[axis] = drill_back(m);
	s->named[axis] = true;
	s->way[axis] = LOST;
}
