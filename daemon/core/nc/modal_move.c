/* What stands behind the settings in NISTIR 6556, table 8: places set or lost, then motion. */
#include <string.h>
#include "modal_inside.h"

#define LOST ((struct modal_number){.state = MODAL_UNKNOWN})

/* The code of motion, from the block's G words. */
static void motion_code(struct modal *m, const struct modal_words *w)
{
	for (size_t i = 0; i < w->gs; i++) {
		int g = w->g[i];
		bool cycle = (g == 900 || g == 920 || g == 940) && m->channel->diameter &&
		             w->axes && !modal_words_motion(w);

		if (g == 0 || g == 10 || g == 20 || g == 30 || g == 320 || g == 330 || g == 340 ||
		    g == 800 || modal_drills(g))
			m->motion = g;
		else if (!m->channel->diameter && (g == 730 || g == 740 || g == 760))
			m->motion = g;
		else if (cycle && m->family != MODAL_FAMILY_B)
			m->motion = m->family == MODAL_FAMILY_A ? g : MODAL_LOST;
		else if (g < 40 || g == 62 || g == 120 || g == 130)
			m->motion = MODAL_LOST; /* involutes, splines, pockets */
	}
}

/* G70 to G76 of a lathe go back to where they began (common practice). */
static bool turning_cycle(const struct modal *m, const struct modal_words *w)
{
	for (size_t i = 0; i < w->gs; i++)
		if (m->channel->diameter && w->g[i] >= 700 && w->g[i] <= 760)
			return true;
	return m->motion == 900 || m->motion == 920 || m->motion == 940;
}

static void to_machine(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	modal_place_targets(m, w, s);
	if (!w->axes)
		memset(s->named, true, sizeof(s->named));
	modal_place_forget_named(m, s);
}

static enum modal_act special(const struct modal_words *w)
{
	for (size_t i = 0; i < w->gs; i++) {
		int g = w->g[i];

		if ((g >= 270 && g <= 309) || g == 530)
			return MODAL_REFERENCE;
		if ((g >= 310 && g <= 319) || g == 360 || g == 370 || (g >= 380 && g <= 389))
			return MODAL_PROBE;
	}
	return MODAL_STILL;
}

static void arc_words(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	s->centre[0] = modal_length(m, modal_words_of(w, 'I'));
	s->centre[1] = modal_length(m, modal_words_of(w, 'J'));
	s->centre[2] = modal_length(m, modal_words_of(w, 'K'));
	s->radius = modal_length(m, modal_words_of(w, 'R'));
}

/* Lead of a thread: E or K where they stand (NISTIR-like G33 K; common practice), else F. */
static void thread_words(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	const struct nc_word *lead = modal_words_of(w, 'K');
	struct modal as_feed = *m;

	if (lead) {
		s->lead = modal_length(m, lead);
		return;
	}
	as_feed.feed_mode = 950;
	s->lead = modal_words_of(w, 'E') ? LOST : modal_feed(&as_feed);
}

/* A cycle that is not followed: its axes stand anywhere behind it. */
static void unfollowed(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	modal_place_targets(m, w, s);
	if (!m->channel->diameter)
		s->named[MODAL_Z] = true;
	modal_place_forget_named(m, s);
	s->act = m->motion < 0 || m->motion == 800 ? MODAL_NAMELESS : MODAL_CYCLE;
}

/* A beside one of X and Z alone may be the angle of the line (common practice of lathes): where it
 * ends is not known then. */
static void line_by_angle(struct modal *m, struct modal_step *s)
{
	if (!m->channel->diameter || !s->named[MODAL_A] || s->named[MODAL_X] == s->named[MODAL_Z])
		return;
	s->named[MODAL_X] = s->named[MODAL_Z] = true;
	modal_place_forget_named(m, s);
}

static void motion(struct modal *m, const struct modal_words *w, struct modal_step *s, bool begins)
{
	switch (m->motion) {
	case 0:
		s->act = MODAL_RAPID;
		break;
	case 10:
		s->act = MODAL_LINE;
		break;
	case 20:
	case 30:
		s->act = MODAL_ARC;
		arc_words(m, w, s);
		break;
	case 320:
	case 330:
		s->act = MODAL_THREAD;
		thread_words(m, w, s);
		break;
	case 340: /* the lead grows from turn to turn */
		s->act = MODAL_CYCLE;
		break;
	default:
		if (modal_drills(m->motion) && !m->channel->diameter)
			modal_drill(m, w, s, begins);
		else
			unfollowed(m, w, s);
		return;
	}
	modal_place_targets(m, w, s);
	if (s->act == MODAL_LINE)
		line_by_angle(m, s);
}

/* A circle that ends where it begins needs no axis word. */
static bool full_circle(const struct modal *m, const struct modal_words *w)
{
	return (m->motion == 20 || m->motion == 30) &&
	       (modal_words_of(w, 'I') || modal_words_of(w, 'J') || modal_words_of(w, 'K'));
}

void modal_move(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	enum modal_act act = special(w);
	bool data, drilled = modal_drills(m->motion), begins;

	memcpy(s->from, m->place, sizeof(s->from));
	motion_code(m, w);
	data = modal_data(m, w, s);
	memcpy(s->from, m->place, sizeof(s->from));
	memcpy(s->to, m->place, sizeof(s->to));
	if (data)
		return;
	if (act != MODAL_STILL) {
		s->act = act;
		to_machine(m, w, s);
		return;
	}
	begins = modal_drills(m->motion) && !drilled && !m->channel->diameter;
	if (turning_cycle(m, w)) {
		if (w->axes || m->motion < 900)
			s->act = MODAL_CYCLE;
		return;
	}
	if (!w->axes && !full_circle(m, w) && !begins)
		return;
	motion(m, w, s, begins);
	modal_place_arrive(m, s);
}
