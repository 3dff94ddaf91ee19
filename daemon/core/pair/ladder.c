/*
 * The ladder: heads, one rung per meeting, what lies between two, and the outcome. Two channels
 * have their places outside the life lines, on the rung's row; three and four have them right of
 * each life line, one row below. What a channel does before a rung stands right of its life line.
 *
 *       ┌─────────┐           ┌─────────┐
 *       │  upper  │           │  lower  │          heads
 *       └────┬────┘           └────┬────┘
 *   line 12  ├─────── M201 ────────┤  line 9      a meeting
 *   line 40  ╞═ M202 ═▷  ╳  ◁═ M203 ═╡  line 31   one that fails
 *            ┆  both wait for ever  ┆
 */
#include <stdio.h>
#include <string.h>
#include "ladder_rung.h"
#include "ladder_times.h"
#include "pair_words.h"

enum {
	WIDTH_MIN = 60,
	GAP_MAX = 44,      /* between two life lines; wider is harder to follow */
	GAP_MAX_MANY = 26, /* the same with three or four channels */
	SIDE_MIN = 13,     /* room for a place beside the life lines of two channels */
	SIDE_MAX = 24,
	SIDE_MANY = 7,
};

static void centred(struct ladder *l, long middle, const char *s)
{
	ladder_row_text(&l->row, middle - (long)ladder_row_cells(s) / 2, s);
}

static const char *file_of(const struct ladder *l, int lane)
{
	const struct program *p = l->r->lane[lane].program;
	const char *slash;

	if (!p)
		return "missing";
	slash = strrchr(p->file, '/');
	return slash ? slash + 1 : p->file;
}

/* Widest place of channel lane among all rungs. */
static size_t side(const struct ladder_plan *plan, int lane)
{
	size_t widest = SIDE_MIN;
	char s[64];

	for (size_t i = 0; i < plan->items; i++) {
		const struct pair_stop *stop = &plan->item[i].rung.channel[lane];

		if (!stop->line)
			continue;
		ladder_rung_place(s, sizeof(s), stop, false, SIDE_MAX);
		if (strlen(s) > widest)
			widest = strlen(s);
	}
	return widest;
}

/* Left of three or four life lines: half a head, wider where the page leaves room. */
static long left_of_many(const struct ladder *l, long w)
{
	long spare = w - LADDER_RUNG_BESIDE - (l->lanes - 1) * GAP_MAX_MANY;

	return spare < SIDE_MANY ? SIDE_MANY : spare > GAP_MAX_MANY / 2 ? GAP_MAX_MANY / 2 : spare;
}

static bool has_parts(const struct ladder_plan *plan)
{
	for (size_t i = 0; i < plan->items; i++)
		for (int c = 0; c < YOKE_CHANNELS_MAX; c++)
			if (plan->item[i].part[c])
				return true;
	return false;
}

/* Two channels: places on both sides, and as much room for words right of each life line. */
static void lay_out_two(struct ladder *l, const struct ladder_plan *plan, long w)
{
	long left = (long)side(plan, 0) + 3, right = (long)side(plan, 1) + 3;

	/* A narrow page keeps the arrows readable before it keeps the N numbers. */
	if (w - left - right < 30)
		left = right = SIDE_MIN + 2;
	l->gap = has_parts(plan) ? (w - left) / 2 : w - left - right;
	if (w - left - l->gap < right)
		l->gap = w - left - right;
	if (l->gap > GAP_MAX)
		l->gap = GAP_MAX;
	l->gap -= l->gap % 2;
	l->x[0] = left;
	l->beside = w - left - l->gap;
}

static void lay_out_many(struct ladder *l, long w)
{
	l->x[0] = left_of_many(l, w);
	l->gap = (w - l->x[0] - LADDER_RUNG_BESIDE) / (l->lanes - 1);
	if (l->gap > GAP_MAX_MANY)
		l->gap = GAP_MAX_MANY;
	l->beside = LADDER_RUNG_BESIDE;
}

static void lay_out(struct ladder *l, const struct ladder_plan *plan, unsigned width)
{
	long w = width < WIDTH_MIN          ? WIDTH_MIN
	         : width > LADDER_WIDTH_MAX ? LADDER_WIDTH_MAX
	                                    : width;

	if (l->lanes == 2)
		lay_out_two(l, plan, w);
	else
		lay_out_many(l, w);
	for (int i = 1; i < l->lanes; i++)
		l->x[i] = l->x[0] + i * l->gap;
	l->width = (size_t)(l->x[l->lanes - 1] + l->beside);
}

/* The text in at most max cells, its end kept: that is where file names differ. */
static void fit(const struct ladder *l, char *to, size_t size, const char *s, size_t max)
{
	size_t cells = ladder_row_cells(s);

	if (cells <= max) {
		snprintf(to, size, "%s", s);
		return;
	}
	while (ladder_row_cells(s) >= max)
		do
			s++;
		while (((unsigned char)*s & 0xc0) == 0x80);
	snprintf(to, size, "%s%s", l->ascii ? "~" : l->g->cut, s);
}

static void head_line(
    struct ladder *l, int lane, long half, const char *from, const char *fill, const char *to)
{
	ladder_row_put(&l->row, l->x[lane] - half, from);
	ladder_row_fill(&l->row, l->x[lane] - half + 1, l->x[lane] + half, fill);
	ladder_row_put(&l->row, l->x[lane] + half, to);
}

static void heads(struct ladder *l)
{
	const struct ladder_glyphs *g = l->g;
	char file[YOKE_CHANNELS_MAX][512];
	long half[YOKE_CHANNELS_MAX];

	for (int i = 0; i < l->lanes; i++) {
		long most = l->x[0] < l->gap / 2 - 1 ? l->x[0] : l->gap / 2 - 1;
		size_t name = ladder_row_cells(lane_name(l->r, i)), longest;

		fit(l, file[i], sizeof(file[i]), file_of(l, i), (size_t)(2 * most - 3));
		longest = ladder_row_cells(file[i]);
		longest = longest > name ? longest : name;
		half[i] = (long)(longest + 4) / 2;
		if (half[i] > most)
			half[i] = most;
	}
	for (int line = 0; line < 4; line++) {
		ladder_row_begin(&l->row, l->width, l->ascii);
		for (int i = 0; i < l->lanes; i++) {
			char name[YOKE_NAME_MAX + 8];

			fit(l, name, sizeof(name), lane_name(l->r, i), (size_t)(2 * half[i] - 1));
			head_line(l, i, half[i],
			    line == 0   ? g->corner[0]
			    : line == 3 ? g->corner[2]
			                : g->down,
			    line == 0 || line == 3 ? g->across : " ",
			    line == 0   ? g->corner[1]
			    : line == 3 ? g->corner[3]
			                : g->down);
			if (line == 1 || line == 2)
				centred(l, l->x[i], line == 1 ? name : file[i]);
			if (line == 3)
				ladder_row_put(&l->row, l->x[i], g->below);
		}
		ladder_row_end(&l->row, l->out);
	}
}

/* Which block-skip switches are on in the run that is drawn. */
static void title(const struct ladder *l)
{
	const struct pair_report *r = l->r;
	struct text t = {0};

	pair_words_switches(r, &t);
	if (r->job[0])
		text_printf(l->out, "%s", r->job);
	if (r->job[0] && r->revision[0])
		text_printf(l->out, " revision %s", r->revision);
	text_printf(l->out, "%sblock skip %s\n\n", r->job[0] ? ", " : "", t.s ? t.s : "off");
	l->out->failed |= t.failed;
	text_free(&t);
}

/* Words folded at width. */
static void folded(struct text *out, const char *s, size_t width)
{
	while (strlen(s) > width) {
		size_t n = width;

		while (n > 0 && s[n] != ' ')
			n--;
		if (n == 0)
			n = width;
		text_add(out, s, n);
		text_putc(out, '\n');
		s += n;
		while (*s == ' ')
			s++;
	}
	text_printf(out, "%s\n", s);
}

static void times(const struct ladder *l, const struct timeline *t, size_t width)
{
	struct text words = {0};

	ladder_times_words(t, &words);
	if (words.s)
		folded(l->out, words.s, width);
	l->out->failed |= words.failed;
	text_free(&words);
}

static void closing(const struct ladder *l, const struct timeline *timeline, size_t width)
{
	const struct pair_report *r = l->r;
	struct text t = {0};

	text_putc(l->out, '\n');
	pair_words_outcome(r, &t);
	if (t.s)
		folded(l->out, t.s, width);
	l->out->failed |= t.failed;
	text_free(&t);
	if (timeline && pair_rungs(r))
		times(l, timeline, width);
	folded(l->out, "Agreement of wait codes does not prove that tools cannot meet.", width);
}

void ladder_draw(const struct pair_report *r, const struct timeline *timeline,
    const struct ladder_style *style, struct text *out)
{
	struct ladder l = {.r = r,
	    .g = style->ascii ? &ladder_row_ascii : &ladder_row_utf8,
	    .out = out,
	    .ascii = style->ascii,
	    .lanes = (int)r->profile->channels};
	struct ladder_plan plan;

	if (!ladder_plan_make(&plan, r, timeline)) {
		out->failed = true;
		return;
	}
	lay_out(&l, &plan, style->width);
	title(&l);
	heads(&l);
	for (int i = 0; i < l.lanes; i++)
		l.open[i] = !r->lane[i].program;
	ladder_rung_spacer(&l);
	ladder_rung_all(&l, &plan);
	closing(&l, timeline, style->width < WIDTH_MIN ? WIDTH_MIN : style->width);
	ladder_plan_free(&plan);
}
