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
#include "ladder_row.h"
#include "pair_words.h"
#include "pair_state.h"

enum {
	WIDTH_MIN = 60,
	GAP_MAX = 44,      /* between two life lines; wider is harder to follow */
	GAP_MAX_MANY = 26, /* the same with three or four channels */
	SIDE_MIN = 13,     /* room for a place beside the life lines of two channels */
	SIDE_MAX = 24,
	SIDE_MANY = 16, /* room right of the last of three or four life lines */
	SHOW_ALL = 16,  /* so many rungs are drawn without leaving any out */
	SHOW_FIRST = 4,
	SHOW_LAST = 8,
};

struct ladder {
	const struct pair_report *r;
	const struct ladder_glyphs *g;
	struct text *out;
	struct ladder_row row;
	bool ascii;
	int lanes;
	size_t width;
	long x[YOKE_CHANNELS_MAX];     /* the life lines */
	long gap;                      /* cells from one to the next */
	bool open[YOKE_CHANNELS_MAX];  /* the life line is drawn open: its program is missing, or it
	                                  waits for ever */
	bool ended[YOKE_CHANNELS_MAX]; /* it has ended: no more life line */
};

static void begin(struct ladder *l)
{
	ladder_row_begin(&l->row, l->width, l->ascii);
	for (int i = 0; i < l->lanes; i++)
		if (!l->ended[i])
			ladder_row_put(&l->row, l->x[i], l->open[i] ? l->g->open_down : l->g->down);
}

static void end(struct ladder *l)
{
	ladder_row_end(&l->row, l->out);
}

static void spacer(struct ladder *l)
{
	begin(l);
	end(l);
}

static void centred(struct ladder *l, long middle, const char *s)
{
	ladder_row_text(&l->row, middle - (long)ladder_row_cells(s) / 2, s);
}

/* Words across all life lines, with blanks around them. */
static void across(struct ladder *l, const char *s)
{
	long middle = (l->x[0] + l->x[l->lanes - 1]) / 2;
	long n = (long)ladder_row_cells(s), from = middle - n / 2;

	begin(l);
	ladder_row_fill(&l->row, from - 1, from + n + 1, " ");
	ladder_row_text(&l->row, from, s);
	end(l);
}

/* "line 40  N200", mirrored where it stands left of its life line; without N where max is too
 * small. */
static void place_text(
    char *s, size_t size, const struct wait_code *code, bool mirrored, size_t max)
{
	unsigned long long line = code->at.line;
	long long n = code->at.sequence;
	int need = n < 0      ? (int)size
	           : mirrored ? snprintf(s, size, "N%lld  line %llu", n, line)
	                      : snprintf(s, size, "line %llu  N%lld", line, n);

	if (need < 0 || (size_t)need >= size || (size_t)need > max)
		snprintf(s, size, "line %llu", line);
}

static const struct wait_stop *stop_of(
    const struct ladder *l, const struct wait_rung *rung, int lane)
{
	int proved = l->r->lane[lane].proved;

	return proved < 0 ? NULL : &rung->channel[proved];
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
			place_text(s, sizeof(s), code, false, SIDE_MAX);
			if (strlen(s) > widest)
				widest = strlen(s);
		}
	}
	return widest;
}

static void lay_out(struct ladder *l, unsigned width)
{
	long w = width < WIDTH_MIN          ? WIDTH_MIN
	         : width > LADDER_WIDTH_MAX ? LADDER_WIDTH_MAX
	                                    : width;
	long beside = l->lanes == 2 ? (long)side(l->r) + 3 : 7;
	long right = l->lanes == 2 ? beside : SIDE_MANY;
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
		end(l);
	}
}

/* Where the channels stand in the text: beside the life lines of two, below the rung of more. */
static void places(struct ladder *l, const struct wait_rung *rung)
{
	for (int i = 0; i < l->lanes; i++) {
		const struct wait_stop *stop = stop_of(l, rung, i);
		bool left = l->lanes == 2 && i == 0;
		long room = l->lanes == 2      ? l->x[0] - 2
		            : i + 1 < l->lanes ? l->gap - 3
		                               : SIDE_MANY - 2;
		char s[64];

		if (!stop || stop->at_end || !stop->code)
			continue;
		place_text(s, sizeof(s), stop->code, left, (size_t)room);
		if (left)
			ladder_row_text(&l->row, l->x[i] - 2 - (long)strlen(s), s);
		else
			ladder_row_text(&l->row, l->x[i] + (l->lanes == 2 ? 3 : 2), s);
	}
}

static void left_out(struct ladder *l, uint64_t n)
{
	char s[80];

	if (n == 0)
		return;
	begin(l);
	for (int i = 0; i < l->lanes; i++)
		ladder_row_put(&l->row, l->x[i], l->g->more);
	snprintf(
	    s, sizeof(s), "%llu more meeting%s, in step", (unsigned long long)n, n > 1 ? "s" : "");
	centred(l, (l->x[0] + l->x[l->lanes - 1]) / 2, s);
	end(l);
	spacer(l);
}

static void meeting(struct ladder *l, const struct wait_rung *rung)
{
	int last = l->lanes - 1;
	char label[32] = "";

	for (int i = 0; i < l->lanes && !*label; i++) {
		const struct wait_stop *stop = stop_of(l, rung, i);

		if (stop && stop->code)
			snprintf(label, sizeof(label), " M%u ", (unsigned)stop->code->code);
	}
	begin(l);
	ladder_row_fill(&l->row, l->x[0] + 1, l->x[last], l->g->across);
	for (int i = 0; i < l->lanes; i++) {
		if (!l->open[i])
			ladder_row_put(&l->row, l->x[i],
			    i == 0      ? l->g->left
			    : i == last ? l->g->right
			                : l->g->cross);
		if (i < last)
			centred(l, l->x[i] + l->gap / 2, label);
	}
	if (l->lanes > 2) {
		end(l);
		begin(l);
	}
	places(l, rung);
	end(l);
	spacer(l);
	left_out(l, rung->repeat);
}

/* An arrow that meets nothing: from the life line towards the others. */
static void open_arrow(struct ladder *l, int lane, uint32_t code)
{
	bool leftwards = l->lanes == 2 && lane == 1;
	long reach = l->lanes == 2         ? l->gap / 2 - 3
	             : lane + 1 < l->lanes ? l->gap - 3
	                                   : SIDE_MANY - 3;
	long x = l->x[lane], from = leftwards ? x - reach : x, to = leftwards ? x : x + reach;
	char label[32];

	if (reach > 16)
		from = leftwards ? x - 16 : x, to = leftwards ? x : x + 16;
	ladder_row_fill(&l->row, from, to, l->g->twice);
	ladder_row_put(&l->row, x, leftwards ? l->g->twice_right : l->g->twice_left);
	ladder_row_put(&l->row, leftwards ? from : to, leftwards ? l->g->to_left : l->g->to_right);
	snprintf(label, sizeof(label), " M%u ", (unsigned)code);
	centred(l, (from + to + 1) / 2, label);
}

static void end_symbol(struct ladder *l, int lane)
{
	ladder_row_fill(&l->row, l->x[lane] - 2, l->x[lane] + 3, l->g->bar);
	ladder_row_put(&l->row, l->x[lane], l->g->bar_down);
}

/* One word of the outcome beside its life line, the first or the second of two below each other. */
static void outcome_word(struct ladder *l, int lane, const struct wait_stop *stop, bool first)
{
	const char *s = first ? "waits" : "for ever";
	long x = l->x[lane];

	if (stop && stop->at_end) {
		if (first)
			centred(l, x, "ended");
	} else if (stop && stop->code) {
		bool left = l->lanes == 2 && lane == 1;

		ladder_row_text(&l->row, left ? x - 2 - (long)strlen(s) + 1 : x + 2, s);
	}
}

/* Below a failed rung: who waits, who has ended. */
static void outcome_words(struct ladder *l, const struct wait_rung *rung)
{
	int waiting = 0;

	for (int i = 0; i < l->lanes; i++) {
		const struct wait_stop *stop = stop_of(l, rung, i);

		l->open[i] = true;
		l->ended[i] = stop && stop->at_end;
		waiting += stop && stop->code;
	}
	if (l->lanes == 2 && waiting == 2) {
		across(l, "both wait for ever");
		spacer(l);
		return;
	}
	for (int line = 0; line < 2; line++) {
		begin(l);
		for (int i = 0; i < l->lanes; i++)
			outcome_word(l, i, stop_of(l, rung, i), line == 0);
		end(l);
	}
	spacer(l);
}

static void failure(struct ladder *l, const struct wait_rung *rung)
{
	begin(l);
	for (int i = 0; i < l->lanes; i++) {
		const struct wait_stop *stop = stop_of(l, rung, i);

		if (stop && stop->code)
			open_arrow(l, i, stop->code->code);
		else if (stop && stop->at_end)
			end_symbol(l, i);
		else if (stop)
			ladder_row_put(&l->row, l->x[i], "?");
	}
	if (l->lanes == 2) {
		ladder_row_put(&l->row, (l->x[0] + l->x[1]) / 2, l->g->fail);
		places(l, rung);
		end(l);
	} else {
		end(l);
		begin(l);
		places(l, rung);
		end(l);
	}
	outcome_words(l, rung);
}

static void all_end(struct ladder *l)
{
	begin(l);
	for (int i = 0; i < l->lanes; i++)
		end_symbol(l, i);
	end(l);
	ladder_row_begin(&l->row, l->width, l->ascii);
	for (int i = 0; i < l->lanes; i++)
		centred(l, l->x[i], "end");
	end(l);
}

static bool all_at_end(const struct pair_report *r, const struct wait_rung *rung)
{
	for (size_t i = 0; i < r->programs; i++)
		if (!rung->channel[i].at_end)
			return false;
	return true;
}

static void unknown(struct ladder *l)
{
	for (int i = 0; i < l->lanes; i++)
		l->open[i] = true;
	spacer(l);
	across(l, l->r->programs < (size_t)l->lanes ? "? a program is missing ?"
	                                            : "? cannot tell what follows ?");
	spacer(l);
}

static void rungs(struct ladder *l)
{
	const struct pair_report *r = l->r;
	size_t n = r->proved ? r->result.rungs : 0, meetings = 0;
	uint64_t out = 0;

	while (meetings < n && r->result.rung[meetings].meets &&
	       !all_at_end(r, &r->result.rung[meetings]))
		meetings++;
	for (size_t i = 0; i < meetings; i++) {
		const struct wait_rung *rung = &r->result.rung[i];

		if (meetings > SHOW_ALL && i >= SHOW_FIRST && i + SHOW_LAST < meetings) {
			out += 1 + rung->repeat;
			continue;
		}
		left_out(l, out);
		out = 0;
		meeting(l, rung);
	}
	if (r->verdict == VERDICT_AGREE)
		all_end(l);
	else if (r->verdict == VERDICT_DISAGREE && meetings < n)
		failure(l, &r->result.rung[meetings]);
	else
		unknown(l);
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
	spacer(&l);
	rungs(&l);
	closing(&l, style->width < WIDTH_MIN ? WIDTH_MIN : style->width);
}
