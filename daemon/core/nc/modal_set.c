/* Settings, in the order of NISTIR 6556, table 8: from G93 to G99. */
#include "modal_inside.h"

#define LOST ((struct modal_number){.state = MODAL_UNKNOWN})

/* G90, G92 and G94 read as NISTIR 6556 does: not cycles of a lathe. */
static bool plain_reading(const struct modal *m, const struct modal_words *w)
{
	return !m->channel->diameter || m->family == MODAL_FAMILY_B || !w->axes ||
	       modal_words_motion(w);
}

/* U and W tell the family, unless they are something else in this block. */
static bool incremental(const struct modal_words *w)
{
	if (!modal_words_of(w, 'U') && !modal_words_of(w, 'W'))
		return false;
	for (size_t i = 0; i < w->gs; i++)
		if (w->g[i] == 40 || w->g[i] == 100 || (w->g[i] >= 700 && w->g[i] <= 760))
			return false;
	return true;
}

void modal_set_family(struct modal *m, const struct modal_words *w)
{
	if (!m->channel->diameter || m->family != MODAL_FAMILY_UNKNOWN)
		return;
	if (modal_words_g(w, 910) || modal_words_g(w, 950) ||
	    (modal_words_motion(w) && (modal_words_g(w, 900) || modal_words_g(w, 940))))
		m->family = MODAL_FAMILY_B;
	else if (modal_words_g(w, 980) || modal_words_g(w, 990) || incremental(w) ||
	         (modal_words_g(w, 920) && w->axes && modal_words_of(w, 'F')))
		m->family = MODAL_FAMILY_A;
}

/* The number of F means another thing in another mode. */
static void feed_mode(struct modal *m, int mode)
{
	if (m->feed_mode != MODAL_NONE && m->feed_mode != mode && m->feed.state != MODAL_ABSENT)
		m->feed = LOST;
	m->feed_mode = mode;
}

static void feed_modes(struct modal *m, const struct modal_words *w)
{
	bool turns = m->channel->diameter && m->family == MODAL_FAMILY_A;

	for (size_t i = 0; i < w->gs; i++) {
		int g = w->g[i];

		if (g == 930 || g == 950 || (g == 940 && plain_reading(m, w)))
			feed_mode(m, g);
		else if (turns && (g == 980 || g == 990))
			feed_mode(m, g == 980 ? 940 : 950);
	}
}

/* S is a clamp in a block with G50 or G92 (common practice). */
static void speed(struct modal *m, const struct modal_words *w)
{
	const struct nc_word *s = modal_words_of(w, 'S');

	for (size_t i = 0; i < w->gs; i++) {
		if (w->g[i] != 960 && w->g[i] != 970)
			continue;
		if (m->speed_mode != MODAL_NONE && m->speed_mode != w->g[i] &&
		    m->speed.state != MODAL_ABSENT)
			m->speed = LOST;
		m->speed_mode = w->g[i];
	}
	if (s && (modal_words_g(w, 500) || modal_words_g(w, 920)))
		m->clamp = modal_plain(s);
	else if (s)
		m->speed = modal_plain(s);
}

static struct modal_number whole(uint64_t n)
{
	return (struct modal_number){.state = MODAL_KNOWN, .v = (double)n};
}

static bool same(const struct modal_number *a, const struct modal_number *b)
{
	return a->state == MODAL_KNOWN && b->state == MODAL_KNOWN && a->v == b->v;
}

/* T of a turret: tool and offset in one number; tool 0 leaves the tool where it is (common
 * practice). */
static void turret(struct modal *m, const struct nc_word *t, struct modal_step *s)
{
	struct modal_number tool = LOST, offset = LOST;
	uint64_t n, unit = 1;

	for (uint32_t i = 0; i < m->channel->offset_digits && i < 18; i++)
		unit *= 10;
	if (nc_word_whole(t, &n)) {
		tool = whole(n / unit);
		offset = whole(n % unit);
	}
	if (tool.state != MODAL_KNOWN || tool.v != 0) {
		s->tool_change = !same(&tool, &m->tool);
		m->tool = tool;
	}
	m->offset = offset;
	s->offset_change = true;
	modal_place_shift(m);
}

/* The tool that T named comes to the spindle. */
static void spindle_tool(struct modal *m, struct modal_step *s)
{
	m->tool = m->tool_next.state == MODAL_ABSENT ? LOST : m->tool_next;
	m->tool_next = (struct modal_number){.state = MODAL_ABSENT};
	s->tool_change = true;
	modal_place_forget(m);
}

static void tools(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	const struct nc_word *t = modal_words_of(w, 'T');
	uint64_t n;

	s->tool_named = t != NULL;
	if (t && modal_turret(m))
		turret(m, t, s);
	else if (t)
		m->tool_next = nc_word_whole(t, &n) ? whole(n) : LOST;
	for (size_t i = 0; i < w->ms; i++)
		if (w->m[i] == 60 && !modal_turret(m))
			spindle_tool(m, s);
}

static void spindle_and_coolant(struct modal *m, const struct modal_words *w)
{
	for (size_t i = 0; i < w->ms; i++) {
		switch (w->m[i]) {
		case 30:
		case 40:
		case 50:
			m->spindle = w->m[i] / 10;
			break;
		case 70:
			m->mist = 1;
			break;
		case 80:
			m->flood = 1;
			break;
		case 90:
			m->mist = m->flood = 0;
			break;
		}
	}
}

/*
 * G4. With a point P, X and U are seconds; without one P counts in ms, and X and U in the
 * thousandth of a second where dimensions count in less than whole mm (common practice; NISTIR
 * 6556, 3.5.4: P in seconds).
 */
static void dwell(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	const struct nc_word *p = modal_words_of(w, 'P');
	struct modal_number n;
	bool whole_seconds = !p && m->increment == 1;

	if (!modal_words_g(w, 40))
		return;
	if (!p)
		p = modal_words_of(w, 'X') ? modal_words_of(w, 'X') : modal_words_of(w, 'U');
	n = p ? modal_plain(p) : LOST;
	if (!n.point && !whole_seconds)
		n.v /= 1000;
	if (n.v < 0)
		n = LOST;
	s->dwell = true;
	s->dwell_seconds = n;
}

static void offsets(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	const struct nc_word *h = modal_words_of(w, 'H'), *d = modal_words_of(w, 'D');
	bool length = false;

	for (size_t i = 0; i < w->gs; i++) {
		if ((w->g[i] < 430 || w->g[i] > 449) && w->g[i] != 490)
			continue;
		m->length_offset = w->g[i];
		length = true;
	}
	if (h && !modal_turret(m)) {
		m->h = modal_plain(h);
		length = true;
	}
	if (d && !modal_turret(m))
		m->d = modal_plain(d);
	if (length) {
		m->place[MODAL_Z].shifted = true;
		s->offset_change = true;
	}
}

static bool work_offset_code(int g)
{
	return (g >= 540 && g <= 590 && g % 10 == 0) || g == 541 || (g >= 591 && g <= 593);
}

/* Another work offset: where the axes stand in it is not known. */
static void work_offset(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	for (size_t i = 0; i < w->gs; i++) {
		struct modal_number p = {.state = MODAL_ABSENT};

		if (!work_offset_code(w->g[i]))
			continue;
		if (w->g[i] == 541)
			p = modal_words_of(w, 'P') ? modal_plain(modal_words_of(w, 'P')) : LOST;
		if (m->work_offset != w->g[i] || (w->g[i] == 541 && !same(&p, &m->work_offset_p)))
			modal_place_forget(m);
		m->work_offset = w->g[i];
		m->work_offset_p = p;
		s->offset_change = true;
	}
}

static void groups(struct modal *m, const struct modal_words *w)
{
	for (size_t i = 0; i < w->gs; i++) {
		int g = w->g[i];

		if (g == 170 || g == 180 || g == 190)
			m->plane = g;
		else if (g == 200 || g == 210)
			m->units = g;
		else if (g == 400 || g == 410 || g == 420)
			m->compensation = g;
		else if (g == 910 || (g == 900 && plain_reading(m, w)))
			m->distance = g;
		else if ((g == 980 || g == 990) &&
		         (!m->channel->diameter || m->family == MODAL_FAMILY_B))
			m->back = g;
	}
}

void modal_set(struct modal *m, const struct modal_words *w, struct modal_step *s)
{
	const struct nc_word *f = modal_words_of(w, 'F');

	feed_modes(m, w);
	if (f)
		m->feed = modal_plain(f);
	speed(m, w);
	tools(m, w, s);
	spindle_and_coolant(m, w);
	dwell(m, w, s);
	groups(m, w);
	offsets(m, w, s);
	work_offset(m, w, s);
}

void modal_set_lost(struct modal *m, const struct modal_words *w, bool uncertain)
{
	if (w->lost_g || uncertain) {
		m->motion = m->plane = m->units = m->distance = m->feed_mode = MODAL_LOST;
		m->back = m->speed_mode = m->work_offset = MODAL_LOST;
		m->compensation = m->length_offset = MODAL_LOST;
		modal_place_forget(m);
	}
	if (w->lost_m || uncertain)
		m->spindle = m->mist = m->flood = MODAL_LOST;
	if (w->lost_m && !modal_turret(m))
		m->tool = LOST;
	if (uncertain) {
		m->feed = m->speed = m->clamp = LOST;
		m->tool = m->tool_next = m->offset = m->h = m->d = LOST;
	}
}
