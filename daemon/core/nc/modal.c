/* The modal state of a channel: its beginning, and a block's way through the files of modal_*. */
#include <string.h>
#include "modal_inside.h"

void modal_begin(
    struct modal *m, const struct profile *profile, const struct profile_channel *channel)
{
	memset(m, 0, sizeof(*m));
	m->channel = channel;
	m->increment = profile->increment;
	m->motion = m->plane = m->units = m->distance = m->feed_mode = MODAL_NONE;
	m->back = m->speed_mode = m->work_offset = m->compensation = MODAL_NONE;
	m->length_offset = m->spindle = m->mist = m->flood = MODAL_NONE;
	m->contour_first = m->contour_last = -1;
}

void modal_passed(struct modal *m)
{
	m->motion = MODAL_LOST;
	modal_place_forget(m);
}

static void stops(const struct modal_words *w, struct modal_step *s)
{
	for (size_t i = 0; i < w->ms; i++) {
		s->stop |= w->m[i] == 0;
		s->optional_stop |= w->m[i] == 10;
		s->end |= w->m[i] == 20 || w->m[i] == 300;
	}
}

static bool macro_call(const struct modal_words *w)
{
	return modal_words_g(w, 650) || modal_words_g(w, 660) || modal_words_g(w, 661);
}

/* G71 to G73 with P and Q: the blocks from N of P to N of Q are their contour. */
static void contour_named(struct modal *m, const struct modal_words *w)
{
	const struct nc_word *p = modal_words_of(w, 'P'), *q = modal_words_of(w, 'Q');
	uint64_t first, last;

	if (!m->channel->diameter || !p || !q ||
	    !(modal_words_g(w, 710) || modal_words_g(w, 720) || modal_words_g(w, 730)))
		return;
	if (!nc_word_whole(p, &first) || !nc_word_whole(q, &last) || first > INT64_MAX ||
	    last > INT64_MAX)
		return;
	m->contour_first = (int64_t)first;
	m->contour_last = (int64_t)last;
}

/* True when the block is passed over: it belongs to the contour that stands right behind its cycle.
 */
static bool contour_passes(struct modal *m, const struct modal_words *w, const struct modal_step *s)
{
	bool inside;

	if (m->contour_first < 0)
		return false;
	inside = (m->in_contour || w->sequence == m->contour_first) && !s->end;
	m->in_contour = inside;
	if (!inside || w->sequence == m->contour_last) {
		m->in_contour = false;
		m->contour_first = m->contour_last = -1;
	}
	return inside;
}

void modal_block(struct modal *m, const struct nc_block *b, struct modal_step *step)
{
	struct modal_step own, *s = step ? step : &own;
	struct modal_words w;

	memset(s, 0, sizeof(*s));
	s->repeat = 1;
	memcpy(s->from, m->place, sizeof(s->from));
	memcpy(s->to, m->place, sizeof(s->to));
	modal_words_read(&w, m, b);
	stops(&w, s);
	if (b->words == 0 || macro_call(&w) || contour_passes(m, &w, s))
		return;
	if (w.lost_g || w.lost_m || b->flags & NC_UNCERTAIN)
		modal_set_lost(m, &w, (b->flags & NC_UNCERTAIN) != 0);
	modal_set_family(m, &w);
	modal_set(m, &w, s);
	modal_move(m, &w, s);
	contour_named(m, &w);
}
