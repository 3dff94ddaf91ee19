/* How far the axes go in each work offset: programmed end points, arcs with their quadrants. */
#include <math.h>
#include <string.h>
#include "motion.h"
#include "setup_inside.h"

/* The entry of the work offset in force; NULL when there is no room for it. */
static struct setup_work *entry(struct setup_way *w)
{
	const struct modal *m = &w->run.modal;
	struct setup_channel *c = w->out;
	struct setup_work now = {.code = m->work_offset, .first = w->at};

	if (m->work_offset == 541 && m->work_offset_p.state == MODAL_KNOWN &&
	    m->work_offset_p.v >= 0 && m->work_offset_p.v <= UINT32_MAX) {
		now.p_known = true;
		now.p = (uint32_t)m->work_offset_p.v;
	}
	for (size_t i = 0; i < c->works; i++)
		if (c->work[i].code == now.code && c->work[i].p_known == now.p_known &&
		    c->work[i].p == now.p)
			return &c->work[i];
	if (c->works == SETUP_WORKS_MAX) {
		c->works_more++;
		return NULL;
	}
	c->work[c->works] = now;
	return &c->work[c->works++];
}

static void reach(struct setup_way *w, int axis, double v)
{
	struct setup_extent *e;

	if (!w->work)
		return;
	e = &w->work->axis[axis];
	if (!e->seen || v < e->low) {
		e->low = v;
		e->low_at = w->at;
	}
	if (!e->seen || v > e->high) {
		e->high = v;
		e->high_at = w->at;
	}
	e->seen = true;
}

/* End points of the axes that move; false when one of them is not known. */
static bool ends(struct setup_way *w, const struct modal_step *s)
{
	bool known = true;

	for (int i = 0; i < MODAL_AXES; i++) {
		if (!s->named[i])
			continue;
		if (s->to[i].known && !s->to[i].shifted)
			reach(w, i, s->to[i].at);
		else
			known = false;
	}
	return known;
}

/* Where an arc crosses the directions of its plane's axes. False when its shape is not known. */
static bool quadrants(struct setup_way *w, const struct modal *m, const struct modal_step *s)
{
	static const int along[4][2] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};
	struct motion_arc arc;
	int axes[3];
	double low, high;

	if (motion_arc_of(m, s, &arc, axes) != MOTION_LEFT_NONE || !s->from[axes[0]].known ||
	    !s->from[axes[1]].known)
		return false;
	low = fmin(arc.start, arc.start + arc.sweep);
	high = low + fabs(arc.sweep);
	for (double k = ceil(low / M_PI_2); k * M_PI_2 <= high; k++) {
		int quarter = (int)(k - 4 * floor(k / 4));

		reach(w, axes[0], arc.u + arc.radius * along[quarter][0]);
		reach(w, axes[1], arc.v + arc.radius * along[quarter][1]);
	}
	return true;
}

static bool drilled(struct setup_way *w, const struct modal *m, const struct modal_step *s)
{
	const struct modal_drill *d = &m->drill;
	struct modal_step holes = *s;

	holes.named[d->axis] = false;
	if (d->bottom.state == MODAL_KNOWN)
		reach(w, d->axis, d->bottom.v);
	if (d->level.state == MODAL_KNOWN)
		reach(w, d->axis, d->level.v);
	return ends(w, &holes) && d->bottom.state == MODAL_KNOWN && d->level.state == MODAL_KNOWN;
}

/* Cycles of a lathe whose X and Z are end points (common practice): G74 to G76, G90, G92, G94. */
static bool has_end(const struct modal *m, const struct nc_block *b)
{
	if (!m->channel->diameter || m->distance == 910 || m->transformed)
		return false;
	for (size_t i = 0; i < b->words; i++) {
		int code = b->word[i].letter == 'G' ? modal_code(&b->word[i]) : -1;

		if (code >= 740 && code <= 760)
			return true;
		if (code >= 700 && code < 740)
			return false;
	}
	return m->motion == 900 || m->motion == 920 || m->motion == 940;
}

static void cycle(struct setup_way *w, const struct modal *m)
{
	const struct nc_block *b = w->step.block;

	setup_count(&w->out->cycles, &w->out->cycle, &w->at);
	if (!has_end(m, b))
		return;
	for (int i = MODAL_X; i <= MODAL_Z; i += 2) {
		const struct nc_word *word = nc_block_word(b, "XYZ"[i]);
		struct modal_number n = modal_length(m, word);

		if (n.state == MODAL_KNOWN)
			reach(w, i, i == MODAL_X ? n.v / 2 : n.v);
	}
}

static void moved(struct setup_way *w, const struct modal *m, const struct modal_step *s)
{
	struct setup_channel *c = w->out;
	bool known = true;

	if (s->act == MODAL_REFERENCE || s->act == MODAL_PROBE) {
		setup_count(&c->references, &c->reference, &w->at);
		return;
	}
	w->work = entry(w);
	if (w->work)
		w->work->moves++;
	switch (s->act) {
	case MODAL_STILL:
		break;
	case MODAL_RAPID:
	case MODAL_LINE:
	case MODAL_THREAD:
		known = ends(w, s);
		break;
	case MODAL_ARC:
		known = ends(w, s);
		known &= quadrants(w, m, s);
		break;
	case MODAL_DRILL:
		known = drilled(w, m, s);
		break;
	case MODAL_CYCLE:
		cycle(w, m);
		break;
	case MODAL_REFERENCE:
	case MODAL_PROBE:
		break;
	case MODAL_NAMELESS:
		known = false;
		break;
	}
	if (!known)
		setup_count(&c->moves_unknown, &c->move_unknown, &w->at);
}

/* The contour of a turning cycle is passed over by the program and cut along by the cycle: its end
 * points count, as they are written. */
static bool along_contour(struct setup_way *w, const struct setup_contour *before)
{
	struct modal_step step;
	int64_t n = w->at.sequence;

	if (before->first < 0 || w->run.done.end || (!before->inside && n != before->first)) {
		w->in_contour = false;
		return false;
	}
	if (!w->in_contour) {
		w->contour = w->run.modal;
		w->contour.in_contour = false;
		w->contour.contour_first = w->contour.contour_last = -1;
		w->in_contour = true;
	}
	modal_block(&w->contour, w->step.block, &step);
	if (step.act != MODAL_STILL)
		moved(w, &w->contour, &step);
	if (n == before->last)
		w->in_contour = false;
	return true;
}

void setup_travel_block(struct setup_way *w, const struct setup_contour *before)
{
	const struct modal_step *done = &w->run.done;

	if (along_contour(w, before))
		return;
	if (done->act != MODAL_STILL)
		moved(w, &w->run.modal, done);
	else if (done->offset_change && w->run.modal.work_offset != MODAL_NONE)
		w->work = entry(w);
}
