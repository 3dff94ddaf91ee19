/*
 * The ladder: heads, one rung per meeting, and the outcome. Two channels have their places outside
 * the life lines, on the rung's row; three and four have them right of each life line, one row
 * below.
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

/* Widest place among all rungs, for two channels. */
static size_t side(const struct pair_report *r)
{
	size_t widest = SIDE_MIN;
	char s[64];

	for (size_t i = 0; i < r->result.rungs && r->proved; i++) {
		for (int k = 0; k < 2; k++) {
			const struct wait_code *code = r->result.rung[i].channel[k].code;

			if (!code || r->result.rung[i].channel[k].at_end)
				continue;
			ladder_rung_place(s, sizeof(s), code, false, SIDE_MAX);
			if (strlen(s) > widest)
				widest = strlen(s);
		}
	}
	return widest;
}

/* Left of three or four life lines: half a head, wider where the page leaves room. */
static long left_of_many(const struct ladder *l, long w)
{
	long spare = w - LADDER_RUNG_BESIDE - (l->lanes - 1) * GAP_MAX_MANY;

	return spare < SIDE_MANY ? SIDE_MANY : spare > GAP_MAX_MANY / 2 ? GAP_MAX_MANY / 2 : spare;
}

static void lay_out(struct ladder *l, unsigned width)
{
	long w = width < WIDTH_MIN          ? WIDTH_MIN
	         : width > LADDER_WIDTH_MAX ? LADDER_WIDTH_MAX
	                                    : width;
	long beside = l->lanes == 2 ? (long)side(l->r) + 3 : left_of_many(l, w);
	long right = l->lanes == 2 ? beside : LADDER_RUNG_BESIDE;
	long most = l->lanes == 2 ? GAP_MAX : GAP_MAX_MANY;

	/* A narrow page keeps the arrows readable before it keeps the N numbers. */
	if (l->lanes == 2 && w - 2 * beside < 30)
		beside = right = SIDE_MIN + 2;
	l->gap = (w - beside - right) / (l->lanes - 1);
	if (l->gap > most)
		l->gap = most;
	l->gap -= l->lanes == 2 && l->gap % 2;
	for (int i = 0; i < l->lanes; i++)
		l->x[i] = beside + i * l->gap;
	l->width = (size_t)(l->x[l->lanes - 1] + right);
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

static void closing(const struct ladder *l, size_t width)
{
	const struct pair_report *r = l->r;
	struct text t = {0};

	text_putc(l->out, '\n');
	pair_words_outcome(r, &t);
	if (t.s)
		folded(l->out, t.s, width);
	l->out->failed |= t.failed;
	text_free(&t);
	folded(l->out, "Agreement of wait codes does not prove that tools cannot meet.", width);
}

void ladder_draw(const struct pair_report *r, const struct ladder_style *style, struct text *out)
{
	struct ladder l = {.r = r,
	    .g = style->ascii ? &ladder_row_ascii : &ladder_row_utf8,
	    .out = out,
	    .ascii = style->ascii,
	    .lanes = (int)r->profile->channels};

	lay_out(&l, style->width);
	title(&l);
	heads(&l);
	for (int i = 0; i < l.lanes; i++)
		l.open[i] = !r->lane[i].program;
	ladder_rung_spacer(&l);
	ladder_rung_all(&l);
	closing(&l, style->width < WIDTH_MIN ? WIDTH_MIN : style->width);
}
