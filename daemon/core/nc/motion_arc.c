/* Arcs and helices: their shape, their length, and their time under constant surface speed. */
#include <math.h>
#include <stdlib.h>
#include "motion_inside.h"

#define TURN (2 * M_PI)
#define SLACK_MM 0.02
#define SLACK_PART 0.001
#define SAME_MM 1e-6 /* start and end are one place: far below any increment */

static bool shape(struct motion_arc *out, double rise)
{
	out->rise = rise;
	out->length = hypot(out->radius * out->sweep, rise);
	return out->radius > 0 && out->length > 0;
}

bool motion_arc_centre(const double from[2], const double to[2], const double centre[2],
    double rise, bool clockwise, struct motion_arc *out)
{
	double u = from[0] + centre[0], v = from[1] + centre[1];
	double r0 = hypot(centre[0], centre[1]), r1 = hypot(to[0] - u, to[1] - v);
	double start = atan2(-centre[1], -centre[0]), sweep = atan2(to[1] - v, to[0] - u) - start;

	if (!(fabs(r1 - r0) <= fmax(SLACK_MM, SLACK_PART * r0)))
		return false;
	if (hypot(to[0] - from[0], to[1] - from[1]) < SAME_MM)
		sweep = clockwise ? -TURN : TURN;
	else if (clockwise && sweep > 0)
		sweep -= TURN;
	else if (!clockwise && sweep < 0)
		sweep += TURN;
	*out = (struct motion_arc){
	    .radius = (r0 + r1) / 2, .start = start, .sweep = sweep, .u = u, .v = v};
	return shape(out, rise);
}

bool motion_arc_radius(const double from[2], const double to[2], double radius, double rise,
    bool clockwise, struct motion_arc *out)
{
	double du = to[0] - from[0], dv = to[1] - from[1], chord = hypot(du, dv);
	double r = fabs(radius), half = chord / 2, height, sweep;
	bool left = clockwise == (radius < 0); /* the centre lies left of the chord */

	if (!(chord >= SAME_MM) || !(chord - 2 * r <= SLACK_MM))
		return false;
	r = fmax(r, half);
	height = sqrt(fmax(0, r * r - half * half)) * (left ? 1 : -1);
	sweep = 2 * asin(fmin(1, half / r));
	if (radius < 0)
		sweep = TURN - sweep;
	*out = (struct motion_arc){
	    .radius = r,
	    .sweep = clockwise ? -sweep : sweep,
	    .u = from[0] + du / 2 - height * dv / chord,
	    .v = from[1] + dv / 2 + height * du / chord,
	};
	out->start = atan2(from[1] - out->v, from[0] - out->u);
	return shape(out, rise);
}

static int by_value(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x > y) - (x < y);
}

/* Angles strictly between low and high at which c + r cos(angle) is x, added to at. */
static size_t crossings(double c, double r, double x, double low, double high, double *at, size_t n)
{
	double q = (x - c) / r;

	if (!(fabs(q) < 1))
		return n;
	for (int sign = -1; sign <= 1; sign += 2) {
		double angle = sign * acos(q);

		angle += TURN * ceil((low - angle) / TURN);
		if (angle > low && angle < high)
			at[n++] = angle;
	}
	return n;
}

/* The integral of max(|c + r cos(angle)|, limit) over the angles low to high, at most one turn. */
static double integral(double c, double r, double limit, double low, double high)
{
	double at[6], sum = 0;
	size_t n = 0;

	at[n++] = low;
	n = crossings(c, r, limit, low, high, at, n);
	n = crossings(c, r, -limit, low, high, at, n);
	at[n++] = high;
	qsort(at, n, sizeof(*at), by_value);
	for (size_t i = 0; i + 1 < n; i++) {
		double a = at[i], b = at[i + 1], x = c + r * cos((a + b) / 2);
		double part = c * (b - a) + r * (sin(b) - sin(a));

		if (fabs(x) <= limit)
			sum += limit * (b - a);
		else
			sum += x > 0 ? part : -part;
	}
	return sum;
}

double motion_arc_seconds(
    const struct motion_rate *rate, const struct motion_arc *arc, int axis, double x0)
{
	double low, high, c, limit;

	if (!rate->constant_surface || axis == 2)
		return motion_line_seconds(rate, arc->length, x0, x0 + arc->rise);
	limit = 1000 * rate->speed / (TURN * rate->clamp);
	low = fmin(arc->start, arc->start + arc->sweep);
	high = low + fabs(arc->sweep);
	c = axis == 0 ? arc->u : arc->v;
	if (axis == 1) { /* a sine is a cosine a quarter later */
		low -= M_PI / 2;
		high -= M_PI / 2;
	}
	return 60 * TURN / (1000 * rate->speed * rate->feed) * arc->length / fabs(arc->sweep) *
	       integral(c, arc->radius, limit, low, high);
}

/* First and second axis of the plane and the one across it; false where it is not known. */
static bool plane(const struct modal *m, const struct modal_step *s, int axes[3])
{
	static const int order[3][3] = {
	    {MODAL_X, MODAL_Y, MODAL_Z}, /* G17 */
	    {MODAL_Z, MODAL_X, MODAL_Y}, /* G18 */
	    {MODAL_Y, MODAL_Z, MODAL_X}, /* G19 */
	};
	bool used[3];
	int across = -1, free_axes = 0;

	for (int i = 0; i < 3; i++) {
		used[i] = s->named[i] || s->centre[i].state != MODAL_ABSENT;
		if (used[i])
			continue;
		across = i;
		free_axes++;
	}
	if (m->plane == MODAL_NONE && free_axes != 1)
		return false;
	for (int i = 0; i < 3; i++) {
		if (m->plane != (i == 0      ? 170
		                    : i == 1 ? 180
		                             : 190) &&
		    !(m->plane == MODAL_NONE && order[i][2] == across))
			continue;
		for (int k = 0; k < 3; k++)
			axes[k] = order[i][k];
		return true;
	}
	return false;
}

static bool find(
    const struct modal *m, const struct modal_step *s, const int axes[3], struct motion_arc *arc)
{
	double from[2], to[2], centre[2];
	double rise = s->named[axes[2]] ? s->way[axes[2]].v : 0;

	for (int i = 0; i < 2; i++) {
		const struct modal_number *c = &s->centre[axes[i]];

		from[i] = s->from[axes[i]].known ? s->from[axes[i]].at : 0;
		to[i] = from[i] + (s->named[axes[i]] ? s->way[axes[i]].v : 0);
		centre[i] = c->state == MODAL_KNOWN ? c->v : 0;
		if (c->state == MODAL_UNKNOWN)
			return false;
	}
	if (s->radius.state == MODAL_KNOWN)
		return motion_arc_radius(from, to, s->radius.v, rise, m->motion == 20, arc);
	return s->radius.state == MODAL_ABSENT &&
	       motion_arc_centre(from, to, centre, rise, m->motion == 20, arc);
}

enum motion_left motion_arc_of(
    const struct modal *m, const struct modal_step *s, struct motion_arc *out, int axes[3])
{
	if (s->shifted || !motion_ways_known(s, -1))
		return MOTION_LEFT_PLACE;
	if (!plane(m, s, axes) || !find(m, s, axes, out))
		return MOTION_LEFT_SHAPE;
	return MOTION_LEFT_NONE;
}

enum motion_left motion_arc(const struct modal *m, const struct modal_step *s, struct motion *out)
{
	struct motion_arc arc;
	struct motion_way way = {.arc = &arc};
	int axes[3];
	enum motion_left left = motion_arc_of(m, s, &arc, axes);

	if (left != MOTION_LEFT_NONE)
		return left;
	way.length = out->feed_mm = arc.length;
	way.x0 = s->from[MODAL_X].at;
	way.x_known = s->from[MODAL_X].known && !s->from[MODAL_X].shifted;
	for (int i = 0; i < 3; i++)
		if (axes[i] == MODAL_X)
			way.arc_axis = i;
	return motion_feed_seconds(m, &way, 0, &out->feed_seconds);
}
