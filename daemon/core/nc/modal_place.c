/* Where the axes stand, and where a block leads them. */
#include <string.h>
#include "modal_inside.h"

#define LOST ((struct modal_number){.state = MODAL_UNKNOWN})

void modal_place_forget(struct modal *m)
{
	memset(m->place, 0, sizeof(m->place));
}

void modal_place_shift(struct modal *m)
{
	for (int i = 0; i < MODAL_AXES; i++)
		m->place[i].shifted = true;
}

void modal_place_forget_named(struct modal *m, struct modal_step *s)
{
	for (int i = 0; i < MODAL_AXES; i++) {
		if (!s->named[i])
			continue;
		memset(&s->to[i], 0, sizeof(s->to[i]));
		memset(&m->place[i], 0, sizeof(m->place[i]));
		s->way[i] = LOST;
	}
}

/* A word as a place or way of its axis: X as a radius, degrees of A, B and C. */
static struct modal_number axis_value(const struct modal *m, int axis, const struct nc_word *w)
{
	struct modal_number n;

	if (axis >= MODAL_A) {
		n = modal_plain(w);
		if (!n.point)
			n.v *= m->increment;
		return n;
	}
	n = modal_length(m, w);
	if (axis == MODAL_X && m->channel->diameter)
		n.v /= 2;
	return n;
}

static void to_place(struct modal_step *s, int axis, const struct modal_number *n)
{
	const struct modal_place *from = &s->from[axis];

	s->to[axis] = (struct modal_place){.known = n->state == MODAL_KNOWN, .at = n->v};
	s->way[axis] = LOST;
	if (n->state != MODAL_KNOWN || !from->known)
		return;
	s->way[axis] = (struct modal_number){.state = MODAL_KNOWN, .v = n->v - from->at};
	s->shifted |= from->shifted;
}

void modal_place_by_way(struct modal_step *s, int axis, const struct modal_number *n)
{
	const struct modal_place *from = &s->from[axis];

	s->way[axis] = *n;
	s->to[axis] = (struct modal_place){
	    .known = from->known && n->state == MODAL_KNOWN,
	    .shifted = from->shifted,
	    .at = from->at + n->v,
	};
}

/* Where the block's axis words lead. */
void modal_place_targets(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	static const char absolute[] = "XYZABC", incremental[] = "UVW\0\0H";
	bool known = m->distance == 900 || (m->distance == MODAL_NONE && m->channel->diameter);

	for (int i = 0; i < MODAL_AXES; i++) {
		const struct nc_word *a = modal_words_of(w, absolute[i]), *u = NULL;
		struct modal_number n;

		if (incremental[i] && (incremental[i] != 'H' || modal_turret(m)))
			u = modal_words_of(w, incremental[i]);
		if (!a && !u)
			continue;
		s->named[i] = true;
		n = axis_value(m, i, a ? a : u);
		if ((a && u) || (a && !known && m->distance != 910))
			n = LOST;
		if (a && m->distance != 910)
			to_place(s, i, &n);
		else
			modal_place_by_way(s, i, &n);
	}
}

void modal_place_arrive(struct modal *m, struct modal_step *s)
{
	if (m->transformed)
		modal_place_forget_named(m, s);
	for (int i = 0; i < MODAL_AXES; i++)
		if (s->named[i])
			m->place[i] = s->to[i];
}

/* G92, G50 of a lathe: the axes stand where the words say. */
void modal_place_preset(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	modal_place_targets(m, w, s);
	for (int i = 0; i < MODAL_AXES; i++)
		if (s->named[i])
			m->place[i] = s->to[i];
	memset(s->named, 0, sizeof(s->named));
	memset(s->way, 0, sizeof(s->way));
	s->shifted = false;
	memcpy(s->to, m->place, sizeof(s->to));
}
