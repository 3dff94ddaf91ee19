/* How long a block moves: rapid, straight feed, threads, dwell. */
#include <math.h>
#include <string.h>
#include "motion_inside.h"

#define SECONDS 60.0 /* per minute */

const char *motion_left_words(enum motion_left left)
{
	static const char *const words[MOTION_LEFTS] = {
	    [MOTION_LEFT_NONE] = "nothing",
	    [MOTION_LEFT_PLACE] = "from or to a place that is not known",
	    [MOTION_LEFT_DISTANCE] = "with neither G90 nor G91 programmed before",
	    [MOTION_LEFT_FEED] = "at a feed that is not known",
	    [MOTION_LEFT_SPEED] = "at a spindle speed that is not known",
	    [MOTION_LEFT_SHAPE] = "along a way that is not known",
	    [MOTION_LEFT_CYCLE] = "a cycle or code that is not followed",
	    [MOTION_LEFT_REFERENCE] = "to a place of the machine",
	    [MOTION_LEFT_DWELL] = "a dwell of unknown length",
	};

	return words[left < MOTION_LEFTS ? left : MOTION_LEFT_NONE];
}

/* The integral of max(|x|, limit) from 0 to x. */
static double integral(double x, double limit)
{
	double a = fabs(x);
	double f = a <= limit ? limit * a : (a * a + limit * limit) / 2;

	return x < 0 ? -f : f;
}

/* The radius within which the clamp holds, mm: 1000 v / (2 pi n). */
static double clamped_radius(const struct motion_rate *rate)
{
	return 1000 * rate->speed / (2 * M_PI * rate->clamp);
}

double motion_line_seconds(const struct motion_rate *rate, double length, double x0, double x1)
{
	double limit, mean;

	if (!rate->constant_surface)
		return SECONDS * length / (rate->feed * rate->speed);
	limit = clamped_radius(rate);
	mean = fmax(fabs(x0), limit);
	if (fabs(x1 - x0) > 1e-6)
		mean = (integral(x1, limit) - integral(x0, limit)) / (x1 - x0);
	return SECONDS * length * mean * 2 * M_PI / (1000 * rate->speed * rate->feed);
}

/* Feed per turn, or lead, and the spindle's speed. */
static enum motion_left turning(const struct modal *m, double per_turn, struct motion_rate *rate)
{
	struct modal_number speed = modal_speed(m), clamp = modal_clamp(m);

	memset(rate, 0, sizeof(*rate));
	rate->feed = per_turn;
	rate->speed = speed.v;
	rate->constant_surface = m->speed_mode == 960;
	rate->clamp = clamp.v;
	if (speed.state != MODAL_KNOWN || !(speed.v > 0))
		return MOTION_LEFT_SPEED;
	if (rate->constant_surface && (clamp.state != MODAL_KNOWN || !(clamp.v > 0)))
		return MOTION_LEFT_SPEED;
	return MOTION_LEFT_NONE;
}

enum motion_left motion_feed_seconds(
    const struct modal *m, const struct motion_way *way, double lead, double *seconds)
{
	struct modal_number feed = modal_feed(m);
	struct motion_rate rate;
	enum motion_left left;

	*seconds = 0;
	if (way->length == 0)
		return MOTION_LEFT_NONE;
	if (lead == 0 && (feed.state != MODAL_KNOWN || !(feed.v > 0)))
		return MOTION_LEFT_FEED;
	if (lead == 0 && m->feed_mode != 950) {
		*seconds = SECONDS * (m->feed_mode == 930 ? 1 : way->length) / feed.v;
		return MOTION_LEFT_NONE;
	}
	left = turning(m, lead > 0 ? lead : feed.v, &rate);
	if (left != MOTION_LEFT_NONE)
		return left;
	if (rate.constant_surface && !way->x_known)
		return MOTION_LEFT_PLACE;
	*seconds = way->arc ? motion_arc_seconds(&rate, way->arc, way->arc_axis, way->x0)
	                    : motion_line_seconds(&rate, way->length, way->x0, way->x1);
	return MOTION_LEFT_NONE;
}

bool motion_ways_known(const struct modal_step *s, int but)
{
	for (int i = 0; i < MODAL_AXES; i++)
		if (s->named[i] && i != but && s->way[i].state != MODAL_KNOWN)
			return false;
	return true;
}

double motion_rapid_mm_seconds(const struct modal *m, double mm)
{
	return SECONDS * fabs(mm) / m->channel->rapid;
}

double motion_rapid_seconds(const struct modal *m, const struct modal_step *s, int but)
{
	double longest = 0;

	for (int i = 0; i < MODAL_AXES; i++) {
		double rate = i < MODAL_A ? m->channel->rapid : m->channel->rapid_turn;

		if (s->named[i] && i != but)
			longest = fmax(longest, SECONDS * fabs(s->way[i].v) / rate);
	}
	return longest;
}

/* Root of the sum of squares over axes from first, count of them. */
static double distance(const struct modal_step *s, int first, int count)
{
	double sum = 0;

	for (int i = first; i < first + count; i++)
		if (s->named[i])
			sum += s->way[i].v * s->way[i].v;
	return sqrt(sum);
}

static enum motion_left rapid(const struct modal *m, const struct modal_step *s, struct motion *out)
{
	if (!motion_ways_known(s, -1))
		return MOTION_LEFT_PLACE;
	if (!(m->channel->rapid > 0) || !(m->channel->rapid_turn > 0))
		return MOTION_LEFT_FEED;
	out->rapid_seconds = motion_rapid_seconds(m, s, -1);
	out->rapid_mm = distance(s, MODAL_X, 3);
	return MOTION_LEFT_NONE;
}

static enum motion_left straight(
    const struct modal *m, const struct modal_step *s, double lead, struct motion *out)
{
	struct motion_way way = {
	    .x0 = s->from[MODAL_X].at,
	    .x1 = s->to[MODAL_X].at,
	    .x_known = s->from[MODAL_X].known && !s->from[MODAL_X].shifted && s->to[MODAL_X].known,
	};

	if (s->shifted || !motion_ways_known(s, -1))
		return MOTION_LEFT_PLACE;
	out->feed_mm = way.length = distance(s, MODAL_X, 3);
	if (way.length == 0)
		way.length = distance(s, MODAL_A, 3);
	return motion_feed_seconds(m, &way, lead, &out->feed_seconds);
}

/* The lead runs along the axis that goes farther: along the way itself it is longer. */
static enum motion_left thread(
    const struct modal *m, const struct modal_step *s, struct motion *out)
{
	double way = distance(s, MODAL_X, 3), far = 0;

	if (s->lead.state != MODAL_KNOWN || !(s->lead.v > 0))
		return MOTION_LEFT_FEED;
	for (int i = MODAL_X; i <= MODAL_Z; i++)
		if (s->named[i])
			far = fmax(far, fabs(s->way[i].v));
	return straight(m, s, far > 0 ? s->lead.v * way / far : s->lead.v, out);
}

/* Absolute or incremental was not programmed: no place is known then, and that is why. */
static enum motion_left why_no_place(const struct modal *m, enum motion_left left)
{
	bool open = m->distance == MODAL_NONE && !m->channel->diameter;

	return left == MOTION_LEFT_PLACE && open ? MOTION_LEFT_DISTANCE : left;
}

static enum motion_left moves(const struct modal *m, const struct modal_step *s, struct motion *out)
{
	if (m->transformed && s->act != MODAL_STILL)
		return MOTION_LEFT_SHAPE;
	switch (s->act) {
	case MODAL_STILL:
		break;
	case MODAL_RAPID:
		return rapid(m, s, out);
	case MODAL_LINE:
		return straight(m, s, 0, out);
	case MODAL_ARC:
		return motion_arc(m, s, out);
	case MODAL_THREAD:
		return thread(m, s, out);
	case MODAL_DRILL:
		return motion_drill(m, s, out);
	case MODAL_CYCLE:
	case MODAL_NAMELESS:
		return MOTION_LEFT_CYCLE;
	case MODAL_REFERENCE:
	case MODAL_PROBE:
		return MOTION_LEFT_REFERENCE;
	}
	return MOTION_LEFT_NONE;
}

void motion_of(const struct modal *m, const struct modal_step *s, struct motion *out)
{
	enum motion_left left;

	memset(out, 0, sizeof(*out));
	left = why_no_place(m, moves(m, s, out));
	if (left != MOTION_LEFT_NONE)
		*out = (struct motion){.left = left};
	if (s->tool_change)
		out->tool_seconds = m->channel->tool_change;
	if (!s->dwell)
		return;
	if (s->dwell_seconds.state == MODAL_KNOWN)
		out->dwell_seconds += s->dwell_seconds.v;
	else
		out->left_dwell = MOTION_LEFT_DWELL;
}
