/* Drilling cycles as moves (NISTIR 6556, 3.5.16). */
#include <math.h>
#include "motion_inside.h"

/* One hole, mm. */
struct hole {
	double depth; /* R to the bottom */
	double back;  /* R to where the cycle goes back to */
	double feed;  /* at feed, all together */
	double rapid; /* between pecks, and out when not at feed */
	bool dwells;
};

/* Which way it comes out, and how often it goes in again. False where the cycle cannot be. */
static bool hole(const struct modal *m, struct hole *h)
{
	const struct modal_number *peck = &m->drill.peck;

	h->feed = h->depth;
	h->rapid = h->depth;
	h->dwells = m->motion == 820 || m->motion == 890;
	switch (m->motion) {
	case 830: /* out to R and in again behind each peck but the last */
		if (peck->state != MODAL_KNOWN || !(peck->v > 0))
			return false;
		if (peck->v < h->depth) {
			double n = ceil(h->depth / peck->v - 1e-9);

			h->rapid += peck->v * n * (n - 1);
		}
		break;
	case 840:
	case 850:
	case 890:
		h->feed *= 2;
		h->rapid = 0;
		break;
	}
	return h->depth > 0;
}

enum motion_left motion_drill(const struct modal *m, const struct modal_step *s, struct motion *out)
{
	const struct modal_drill *d = &m->drill;
	const struct modal_place *from = &s->from[d->axis], *to = &s->to[d->axis];
	struct motion_way way = {.x0 = s->to[MODAL_X].at, .x1 = s->to[MODAL_X].at};
	struct hole h = {.depth = d->level.v - d->bottom.v, .back = to->at - d->level.v};
	double times = (double)s->repeat, rapid;
	enum motion_left left;

	if (d->level.state != MODAL_KNOWN || d->bottom.state != MODAL_KNOWN || !from->known ||
	    !to->known || !motion_ways_known(s, d->axis))
		return MOTION_LEFT_PLACE;
	if (!hole(m, &h))
		return MOTION_LEFT_SHAPE;
	if (!(m->channel->rapid > 0))
		return MOTION_LEFT_FEED;
	way.length = h.feed;
	way.x_known = s->to[MODAL_X].known && !s->to[MODAL_X].shifted;
	left = motion_feed_seconds(m, &way, 0, &out->feed_seconds);
	if (left != MOTION_LEFT_NONE)
		return left;
	rapid = fabs(from->at - d->level.v) + times * (h.rapid + h.back) + (times - 1) * h.back;
	out->rapid_seconds =
	    motion_rapid_seconds(m, s, d->axis) + motion_rapid_mm_seconds(m, rapid);
	out->rapid_mm = rapid + hypot(s->named[(d->axis + 1) % 3] ? s->way[(d->axis + 1) % 3].v : 0,
	                            s->named[(d->axis + 2) % 3] ? s->way[(d->axis + 2) % 3].v : 0);
	out->feed_seconds *= times;
	out->feed_mm = times * h.feed;
	if (!h.dwells || d->dwell.state == MODAL_ABSENT)
		return MOTION_LEFT_NONE;
	if (d->dwell.state == MODAL_KNOWN && d->dwell.v >= 0)
		out->dwell_seconds = times * d->dwell.v;
	else
		out->left_dwell = MOTION_LEFT_DWELL;
	return MOTION_LEFT_NONE;
}
