/* One channel's part of the setup sheet. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include "setup_words.h"

static void tool(struct sheet *s, const struct setup_channel *c, const struct setup_tool *t)
{
	struct text offsets = {0}, purpose = {0};
	char at[SETUP_WORDS];

	for (size_t i = 0; i < t->offsets; i++)
		text_printf(&offsets, "%s%s%" PRIu32, i ? " " : "",
		    t->offset[i].letter == 'T'   ? ""
		    : t->offset[i].letter == 'H' ? "H"
		                                 : "D",
		    t->offset[i].number);
	if (t->offsets_more)
		text_printf(&offsets, " and %zu more", t->offsets_more);
	for (size_t i = 0; i < t->comments; i++)
		text_printf(&purpose, "%s%s", i ? "; " : "", t->comment[i]);
	if (t->comments_more)
		text_printf(&purpose, "; and %zu more", t->comments_more);
	if (t->known)
		sheet_cell(s, "T%" PRIu32, t->number);
	else
		sheet_cell(s, "not known");
	sheet_cell(s, "%s", offsets.s ? offsets.s : "-");
	sheet_cell(s, "%s", setup_words_where(at, c, &t->first));
	sheet_cell(s, "%" PRIu64, t->changes);
	sheet_cell(s, "%s", purpose.s ? purpose.s : "no comment");
	s->failed |= offsets.failed || purpose.failed;
	text_free(&offsets);
	text_free(&purpose);
}

static void more(struct sheet *s, size_t n, const char *what)
{
	if (n)
		sheet_add(s, SHEET_PARAGRAPH, "And %zu more %s that are not listed.", n, what);
}

static void tools(struct sheet *s, const struct setup_channel *c)
{
	static const char *const column[] = {"Tool", "Offset", "First used", "Changes", "What for"};
	char at[SETUP_WORDS];

	sheet_add(s, SHEET_SUBHEAD, "Tools, in the order of their first use");
	if (!c->tools)
		sheet_add(s, SHEET_PARAGRAPH, "No tool comes to work.");
	sheet_table(s, column, 5);
	for (size_t i = 0; i < c->tools; i++)
		tool(s, c, &c->tool[i]);
	more(s, c->tools_more, "changes to tools");
	if (c->tools_waiting)
		sheet_add(s, SHEET_PARAGRAPH,
		    "Tools named by T that no M06 brings to work before another T or the end: "
		    "%" PRIu64 " (first: %s).",
		    c->tools_waiting, setup_words_where(at, c, &c->tool_waiting));
}

static void extent(
    struct sheet *s, const struct setup_channel *c, const struct setup_work *w, int axis)
{
	const struct setup_extent *e = &w->axis[axis];
	double scale = axis == 0 && c->diameter ? 2 : 1;
	char name[SETUP_NAME_MAX], v[SETUP_WORDS], at[SETUP_WORDS];

	if (!e->seen)
		return;
	sheet_cell(s, "%s", setup_work_name(w, name));
	sheet_cell(s, "%c%s", "XYZABC"[axis], scale > 1 ? " diameter" : "");
	sheet_cell(s, "%s", setup_words_number(v, e->low * scale));
	sheet_cell(s, "%s", setup_words_where(at, c, &e->low_at));
	sheet_cell(s, "%s", setup_words_number(v, e->high * scale));
	sheet_cell(s, "%s", setup_words_where(at, c, &e->high_at));
}

static void travel(struct sheet *s, const struct setup_channel *c)
{
	static const char *const column[] = {
	    "Work offset", "Axis", "Lowest", "at", "Highest", "at"};

	sheet_add(s, SHEET_SUBHEAD, "Travel, mm or degrees");
	sheet_table(s, column, 6);
	for (size_t i = 0; i < c->works; i++)
		for (int axis = 0; axis < SETUP_AXES; axis++)
			extent(s, c, &c->work[i], axis);
	more(s, c->works_more, "work offsets or moves in them");
	if (c->inches)
		sheet_add(s, SHEET_PARAGRAPH,
		    "The program counts in inches (G20): travel stands here in mm, surface speed "
		    "in "
		    "m/min.");
}

/* "moves to places that are not known: 2 (first: N10, line 30)" */
static void left_out(struct sheet *s, const struct setup_channel *c, uint64_t n,
    const struct setup_place *first, const char *what)
{
	char at[SETUP_WORDS];

	if (n)
		sheet_add(s, SHEET_POINT, "%s: %" PRIu64 " (first: %s)", what, n,
		    setup_words_where(at, c, first));
}

static void left_outs(struct sheet *s, const struct setup_channel *c)
{
	left_out(s, c, c->moves_unknown, &c->move_unknown,
	    "Not in the travel, moves to places that are not known");
	left_out(s, c, c->cycles, &c->cycle, "Not in the travel, inner ways of cycles");
	left_out(s, c, c->references, &c->reference,
	    "Not in the travel, moves to places of the machine or until something is touched");
	left_out(s, c, c->not_entered, &c->call_not_entered,
	    "Not on this sheet, calls of programs that are not in these files");
	if (c->speeds_unknown)
		sheet_add(s, SHEET_POINT,
		    "Not on this sheet, speeds whose value is not known: %" PRIu64,
		    c->speeds_unknown);
}

static void most(struct sheet *s, const struct setup_channel *c, const struct setup_most *m,
    const char *before, const char *unit)
{
	char v[SETUP_WORDS], at[SETUP_WORDS];

	if (m->seen)
		sheet_add(s, SHEET_POINT, "%s %s %s (%s)", before, setup_words_number(v, m->v),
		    unit, setup_words_where(at, c, &m->at));
}

static void speeds(struct sheet *s, const struct setup_channel *c)
{
	sheet_add(s, SHEET_SUBHEAD, "Highest speeds");
	if (!c->speed.seen && !c->surface.seen && !c->clamp.seen)
		sheet_add(s, SHEET_PARAGRAPH, "No speed is programmed.");
	most(s, c, &c->speed, "Speed:", "1/min");
	most(s, c, &c->surface, "Surface speed (G96):", "m/min");
	most(s, c, &c->clamp, "Clamp (G50 S, G92 S):", "1/min");
	most(s, c, &c->unclamped,
	    "Surface speed without a clamp before it: near the centre the spindle goes up to what "
	    "the machine allows:",
	    "m/min");
}

static bool holds(const struct setup_code *c)
{
	return strcasecmp(c->group, "spindle") == 0 || strncasecmp(c->group, "clamp", 5) == 0 ||
	       strncasecmp(c->group, "chuck", 5) == 0;
}

static void codes(struct sheet *s, const struct setup_channel *c, bool holding, const char *head)
{
	static const char *const column[] = {"Code", "Times", "First", "Meaning"};
	bool any = false;
	char at[SETUP_WORDS];

	for (size_t i = 0; i < c->codes; i++)
		any |= holds(&c->code[i]) == holding;
	if (!any)
		return;
	sheet_add(s, SHEET_SUBHEAD, "%s", head);
	sheet_table(s, column, 4);
	for (size_t i = 0; i < c->codes; i++) {
		const struct setup_code *k = &c->code[i];

		if (holds(k) != holding)
			continue;
		sheet_cell(s, "M%02" PRIu32, k->code);
		sheet_cell(s, "%" PRIu64, k->times);
		sheet_cell(s, "%s", setup_words_where(at, c, &k->first));
		if (k->text[0])
			sheet_cell(s, "%s%s%s", k->group, k->group[0] ? ": " : "", k->text);
		else
			sheet_cell(s, "not in the machine's table ([codes])");
	}
}

static void stops(struct sheet *s, const struct setup_channel *c)
{
	static const char *const column[] = {"Stop", "Where", "Times", "Comment"};
	char at[SETUP_WORDS], skip[16];

	sheet_add(s, SHEET_SUBHEAD, "Stops");
	if (!c->stops)
		sheet_add(s, SHEET_PARAGRAPH, "None (M00, M01).");
	sheet_table(s, column, 4);
	for (size_t i = 0; i < c->stops; i++) {
		const struct setup_stop *p = &c->stop[i];

		snprintf(skip, sizeof(skip), p->skip > 1 ? "/%u " : "/ ", p->skip);
		sheet_cell(s, "%s%s", p->skip ? skip : "", p->optional ? "M01 optional" : "M00");
		sheet_cell(s, "%s", setup_words_where(at, c, &p->at));
		sheet_cell(s, "%" PRIu64, p->times);
		sheet_cell(s, "%s", p->comment);
	}
	more(s, c->stops_more, "stops");
}

static void skips(struct sheet *s, const struct setup_channel *c)
{
	static const char *const column[] = {"Block-skip switch", "Blocks behind it", "First"};
	char at[SETUP_WORDS];
	bool any = false;

	for (int k = 1; k < SETUP_SKIPS; k++)
		any |= c->skip[k].blocks > 0;
	sheet_add(s, SHEET_SUBHEAD, "Block-skip switches");
	if (!any)
		sheet_add(s, SHEET_PARAGRAPH, "None is used.");
	sheet_table(s, column, 3);
	for (int k = 1; k < SETUP_SKIPS; k++) {
		if (!c->skip[k].blocks)
			continue;
		sheet_cell(s, k > 1 ? "/%d" : "/", k);
		sheet_cell(s, "%" PRIu64, c->skip[k].blocks);
		sheet_cell(s, "%s", setup_words_where(at, c, &c->skip[k].first));
	}
}

static void one_number(struct sheet *s, const struct setup_channel *c, const struct setup_number *n)
{
	static const char *const kind[] = {[SETUP_NUMBER_MAIN] = "main program",
	    [SETUP_NUMBER_HERE] = "subprogram",
	    [SETUP_NUMBER_RESIDENT] = "lives in the control",
	    [SETUP_NUMBER_MISSING] = "not in these files"};
	char at[SETUP_WORDS];

	if (n->name[0])
		sheet_cell(s, "O<%s>", n->name);
	else
		sheet_cell(s, "O%04" PRIu32, n->number);
	sheet_cell(s, "%s", kind[n->kind]);
	sheet_cell(s, "%s", setup_words_where(at, c, &n->at));
	sheet_cell(s, "%" PRIu64, n->calls);
	sheet_cell(s, "%s", setup_words_where(at, c, &n->called));
}

static void numbers(struct sheet *s, const struct setup_channel *c)
{
	static const char *const column[] = {
	    "Program", "What", "Stands at", "Calls", "First called at"};

	sheet_add(s, SHEET_SUBHEAD, "Programs");
	if (!c->numbers)
		sheet_add(s, SHEET_PARAGRAPH, "No program number.");
	sheet_table(s, column, 5);
	for (size_t i = 0; i < c->numbers; i++)
		one_number(s, c, &c->number[i]);
	more(s, c->numbers_more, "program numbers or calls");
}

void setup_channel_sheet(struct sheet *s, const struct setup_channel *c)
{
	char at[SETUP_WORDS];

	sheet_add(
	    s, SHEET_HEAD, "Channel %s%s%s", c->name, c->file ? ": " : "", c->file ? c->file : "");
	if (!c->present) {
		sheet_add(s, SHEET_PARAGRAPH, "Its program is missing.");
		return;
	}
	if (c->end == SETUP_UNREAD) {
		sheet_add(s, SHEET_PARAGRAPH, "Nothing was computed: %s.", c->why);
		return;
	}
	sheet_add(s, SHEET_PARAGRAPH, "Blocks executed: %" PRIu64 "; wait codes met: %" PRIu64 ".",
	    c->blocks, c->waits);
	if (c->end == SETUP_LOST)
		sheet_add(s, SHEET_PARAGRAPH,
		    "NOT WHOLE: the program was not followed to its end, only up to %s: %s. What "
		    "comes "
		    "behind is not on this sheet.",
		    c->lost_at.line ? setup_words_where(at, c, &c->lost_at) : "its beginning",
		    c->why ? c->why : "no reason is known");
	tools(s, c);
	travel(s, c);
	left_outs(s, c);
	speeds(s, c);
	codes(s, c, true, "Spindle and clamping");
	codes(s, c, false, "Other miscellaneous codes");
	more(s, c->codes_more, "codes");
	stops(s, c);
	skips(s, c);
	numbers(s, c);
}
