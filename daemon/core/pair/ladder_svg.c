/*
 * The ladder as a picture: SVG 1.1, black on white, one user unit a point at A4's width. Work is a
 * box beside its life line, waiting a broken life line, a meeting a line across, a failure a double
 * line that ends in a cross, and each says in words what it is. All letters are as wide as each
 * other, so that what fits is known without the font.
 */
#include <stdio.h>
#include <string.h>
#include "ladder_part.h"
#include "ladder_plan.h"
#include "ladder_row.h"
#include "ladder_times.h"
#include "pair_words.h"

enum {
	PAGE = 560, /* width that A4 and Letter both have within their margins */
	MARGIN = 16,
	LINE = 13, /* from one line of text to the next */
	HEAD = 44, /* height of a channel's head */
	GAP = 18,  /* above a rung: room for its code */
	ARM = 46,  /* of an arrow that meets nothing */
	SIZE = 10, /* of letters */
	LETTER = 6 /* width of one: three fifths of its size in fonts that are as wide everywhere */
};

struct picture {
	const struct pair_report *r;
	struct text *out;
	int lanes;
	int x[YOKE_CHANNELS_MAX];
	int column; /* width of a channel's column */
	int y;      /* where the next row begins */
};

/* Text inside a document, visible. */
static void escaped(struct text *out, const char *s)
{
	struct text t = {0};

	text_visible(&t, s, strlen(s));
	text_markup(out, t.s ? t.s : "");
	out->failed |= t.failed;
	text_free(&t);
}

/* Cut s, in place, to so many letters, whole characters only; ".." says so. */
static void cut(char *s, size_t most)
{
	size_t cells = 0, keep = 0;

	if (ladder_row_cells(s) <= most)
		return;
	while (s[keep] && (cells + 2 < most || ((unsigned char)s[keep] & 0xc0) == 0x80)) {
		keep++;
		cells += ((unsigned char)s[keep] & 0xc0) != 0x80;
	}
	strcpy(s + keep, strlen(s + keep) >= 2 ? ".." : "");
}

/* Text as it stands in a program or a file's name: made visible, and cut. */
static void shown(char *to, size_t size, const char *s, size_t most)
{
	struct text t = {0};

	text_visible(&t, s, strlen(s));
	snprintf(to, size, "%s", t.s ? t.s : "");
	text_free(&t);
	cut(to, most);
}

static void words(struct picture *p, int x, int y, const char *how, const char *s)
{
	text_printf(p->out, "<text x=\"%d\" y=\"%d\" fill=\"#000\" stroke=\"none\"%s>", x, y, how);
	escaped(p->out, s);
	text_puts(p->out, "</text>\n");
}

static void stroke(struct picture *p, int x1, int y1, int x2, int y2, const char *how)
{
	text_printf(
	    p->out, "<line x1=\"%d\" y1=\"%d\" x2=\"%d\" y2=\"%d\"%s/>\n", x1, y1, x2, y2, how);
}

static const char *file_of(const struct pair_report *r, int lane)
{
	const struct program *p = r->lane[lane].program;
	const char *slash;

	if (!p)
		return "missing";
	slash = strrchr(p->file, '/');
	return slash ? slash + 1 : p->file;
}

static void heads(struct picture *p)
{
	for (int i = 0; i < p->lanes; i++) {
		int width = p->column - 2 * MARGIN;
		char file[512];

		text_printf(p->out,
		    "<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" fill=\"none\"/>\n",
		    p->x[i] - 12, p->y, width, HEAD - 10);
		words(p, p->x[i], p->y + 14, " font-weight=\"bold\"", lane_name(p->r, i));
		shown(file, sizeof(file), file_of(p->r, i), (size_t)(width - 16) / LETTER);
		words(p, p->x[i], p->y + 14 + LINE, "", file);
	}
	p->y += HEAD - 10;
}

/* So many letters are between a life line and the next one. */
static size_t letters(const struct picture *p)
{
	return (size_t)(p->column - 16) / LETTER;
}

/* The lines of one channel's part, cut to its column. */
static void part(struct picture *p, int lane, char line[][LADDER_PART_SIZE], size_t n)
{
	if (n)
		text_printf(p->out,
		    "<rect x=\"%d\" y=\"%d\" width=\"4\" height=\"%d\" fill=\"#000\"/>\n",
		    p->x[lane] - 2, p->y + 4, (int)n * LINE);
	for (size_t i = 0; i < n; i++) {
		cut(line[i], letters(p));
		words(p, p->x[lane] + 8, p->y + LINE + (int)i * LINE, "", line[i]);
	}
}

/* What the channels do before a rung: as high as the longest of them; who waits has a broken life
 * line. */
static void parts(struct picture *p, const struct ladder_item *item)
{
	char line[YOKE_CHANNELS_MAX][LADDER_PART_LINES][LADDER_PART_SIZE];
	size_t n[YOKE_CHANNELS_MAX] = {0}, most = 0;
	int height;

	for (int i = 0; i < p->lanes; i++) {
		if (item->part[i])
			n[i] = ladder_part_lines(item->part[i], letters(p), line[i]);
		most = n[i] > most ? n[i] : most;
	}
	height = (int)most * LINE + GAP;
	for (int i = 0; i < p->lanes; i++) {
		bool waits = item->part[i] && item->part[i]->wait_seconds > 0;
		int until = p->y + (int)n[i] * LINE + 4;

		if (!p->r->lane[i].program)
			continue;
		stroke(p, p->x[i], p->y, p->x[i], waits ? until : p->y + height, "");
		if (waits)
			stroke(
			    p, p->x[i], until, p->x[i], p->y + height, " stroke-dasharray=\"2 3\"");
		part(p, i, line[i], n[i]);
	}
	p->y += height;
}

static void place(struct picture *p, int lane, const struct pair_stop *stop)
{
	char s[64];

	if (!stop->line)
		return;
	if (stop->sequence >= 0)
		snprintf(s, sizeof(s), "line %llu N%lld", (unsigned long long)stop->line,
		    (long long)stop->sequence);
	else
		snprintf(s, sizeof(s), "line %llu", (unsigned long long)stop->line);
	words(p, p->x[lane] + 8, p->y + LINE, " font-size=\"9\"", s);
}

static void rung(struct picture *p, const struct ladder_item *item)
{
	const struct pair_rung *g = &item->rung;
	const char *code;
	int first = -1, last = -1;

	for (int i = 0; i < p->lanes; i++) {
		if (!g->channel[i].goes)
			continue;
		first = first < 0 ? i : first;
		last = i;
	}
	if (first < 0)
		return;
	if (last > first)
		stroke(p, p->x[first], p->y, p->x[last], p->y, " stroke-width=\"1.6\"");
	code = ladder_plan_code(g);
	words(p,
	    last > first ? p->x[first] + p->column / 2 - (int)strlen(code) * LETTER / 2
	                 : p->x[first] + 8,
	    p->y - 4, " font-weight=\"bold\"", code);
	for (int i = 0; i < p->lanes; i++) {
		if (g->channel[i].goes) {
			text_printf(p->out,
			    "<circle cx=\"%d\" cy=\"%d\" r=\"3.5\" fill=\"#fff\"/>\n", p->x[i],
			    p->y);
			place(p, i, &g->channel[i]);
		}
		if (p->r->lane[i].program)
			stroke(p, p->x[i], p->y + (g->channel[i].goes ? 4 : 0), p->x[i],
			    p->y + LINE + 4, "");
	}
	p->y += LINE + 4;
}

static void omitted(struct picture *p, const struct ladder_item *item)
{
	char s[64];

	for (int i = 0; i < p->lanes; i++)
		stroke(p, p->x[i], p->y, p->x[i], p->y + 2 * LINE, " stroke-dasharray=\"1 5\"");
	snprintf(s, sizeof(s), "%llu more meeting%s, in step", (unsigned long long)item->omitted,
	    item->omitted > 1 ? "s" : "");
	words(p, p->x[0] + p->column / 2 - (int)strlen(s) * LETTER / 2, p->y + LINE + 4, "", s);
	p->y += 2 * LINE;
}

/* A channel that waits for ever: a double line that ends in a cross, and the code it waits at. */
static void stuck(struct picture *p, int lane, const struct pair_stop *stop)
{
	int direction = lane && lane == p->lanes - 1 ? -1 : 1;
	int from = p->x[lane], to = from + direction * ARM;

	stroke(p, from, p->y - 2, to, p->y - 2, "");
	stroke(p, from, p->y + 2, to, p->y + 2, "");
	stroke(p, to - 5, p->y - 6, to + 5, p->y + 6, " stroke-width=\"2\"");
	stroke(p, to - 5, p->y + 6, to + 5, p->y - 6, " stroke-width=\"2\"");
	words(p, direction > 0 ? from + 8 : to, p->y - 8, " font-weight=\"bold\"", stop->code);
	place(p, lane, stop);
	words(p, p->x[lane] + 8, p->y + 2 * LINE, " font-weight=\"bold\"", "waits for ever");
}

static void close_line(struct picture *p, int lane, const char *s)
{
	stroke(p, p->x[lane] - 8, p->y, p->x[lane] + 8, p->y, " stroke-width=\"3\"");
	words(p, p->x[lane] - 8, p->y + LINE, "", s);
}

static void finish(struct picture *p, const struct ladder_item *item)
{
	for (int i = 0; i < p->lanes; i++) {
		const struct pair_stop *stop = &item->rung.channel[i];

		if (!p->r->lane[i].program)
			continue;
		if (item->kind == LADDER_FAILED && stop->code[0])
			stuck(p, i, stop);
		else if (stop->at_end)
			close_line(p, i, "end");
		else if (stop->begins)
			close_line(p, i, "begins again");
		else
			words(p, p->x[i] - 3, p->y + LINE, " font-weight=\"bold\"",
			    "? cannot tell from here");
	}
	p->y += 3 * LINE;
}

/* Words below the picture, broken into lines at blanks. */
static void closing(struct picture *p, const char *s)
{
	size_t width = (PAGE - 2 * MARGIN) / LETTER;

	while (*s) {
		size_t n = strlen(s);
		char line[256];

		if (n > width)
			for (n = width; n && s[n] != ' '; n--)
				;
		if (!n || n >= sizeof(line))
			n = strlen(s) < width ? strlen(s) : width;
		snprintf(line, sizeof(line), "%.*s", (int)n, s);
		p->y += LINE;
		words(p, MARGIN, p->y, "", line);
		s += n;
		while (*s == ' ')
			s++;
	}
}

static void body(struct picture *p, const struct ladder_plan *plan)
{
	for (size_t k = 0; k < plan->items; k++) {
		const struct ladder_item *item = &plan->item[k];

		if (item->kind == LADDER_OMITTED) {
			omitted(p, item);
			continue;
		}
		parts(p, item);
		if (item->kind == LADDER_RUNG)
			rung(p, item);
		else
			finish(p, item);
	}
}

static void title(struct picture *p)
{
	struct text t = {0};

	text_puts(&t, p->r->job[0] ? p->r->job : "pair");
	if (p->r->revision[0])
		text_printf(&t, " revision %s", p->r->revision);
	text_puts(&t, ", block skip ");
	pair_words_switches(p->r, &t);
	p->y += LINE;
	if (t.s)
		words(p, MARGIN, p->y, " font-size=\"13\" font-weight=\"bold\"", t.s);
	p->y += LINE;
	p->out->failed |= t.failed;
	text_free(&t);
}

static void end_words(struct picture *p, const struct timeline *timeline)
{
	struct text t = {0}, times = {0};

	pair_words_outcome(p->r, &t);
	if (t.s)
		closing(p, t.s);
	p->out->failed |= t.failed;
	text_free(&t);
	if (timeline && pair_rungs(p->r))
		ladder_times_words(timeline, &times);
	if (times.s)
		closing(p, times.s);
	p->out->failed |= times.failed;
	text_free(&times);
	closing(p, "Agreement of wait codes does not prove that tools cannot meet.");
}

void ladder_svg(const struct pair_report *r, const struct timeline *timeline, struct text *out)
{
	struct text inside = {0};
	struct picture p = {
	    .r = r, .out = &inside, .lanes = (int)r->profile->channels, .y = MARGIN};
	struct ladder_plan plan;

	if (!ladder_plan_make(&plan, r, timeline)) {
		out->failed = true;
		return;
	}
	p.column = (PAGE - 2 * MARGIN) / p.lanes;
	for (int i = 0; i < p.lanes; i++)
		p.x[i] = MARGIN + 12 + i * p.column;
	title(&p);
	heads(&p);
	body(&p, &plan);
	end_words(&p, timeline);
	text_printf(out,
	    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
	    "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"%d\" height=\"%d\" "
	    "viewBox=\"0 0 %d %d\" font-family=\"monospace\" font-size=\"%d\">\n"
	    "<title>Wait codes</title>\n<rect width=\"%d\" height=\"%d\" fill=\"#fff\"/>\n"
	    "<g stroke=\"#000\" fill=\"none\">\n",
	    PAGE, p.y + MARGIN, PAGE, p.y + MARGIN, SIZE, PAGE, p.y + MARGIN);
	text_add(out, inside.s ? inside.s : "", inside.n);
	text_puts(out, "</g>\n</svg>\n");
	out->failed |= inside.failed;
	text_free(&inside);
	ladder_plan_free(&plan);
}
