/* A place and what must be in force before its block, in the program's own words. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include "restart_inside.h"
#include "setup_words.h"

#define MM_PER_INCH 25.4

void restart_words_code(
    const struct profile *profile, const struct wait_code *code, char out[RESTART_TEXT_MAX])
{
	if (code->call)
		snprintf(out, RESTART_TEXT_MAX, "%s %" PRIu32, profile->wait_call, code->code);
	else
		snprintf(out, RESTART_TEXT_MAX, "M%" PRIu32, code->code);
}

const char *restart_words_at(char out[RESTART_WORDS], const struct setup_place *p)
{
	if (p->sequence >= 0)
		snprintf(out, RESTART_WORDS, "N%" PRId64 ", line %" PRIu64, p->sequence, p->line);
	else
		snprintf(out, RESTART_WORDS, "line %" PRIu64, p->line);
	return out;
}

/* One line of a place: items with commas between them. */
struct items {
	struct text t;
};

static void item(struct items *i, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void item(struct items *i, const char *format, ...)
{
	va_list ap;

	if (i->t.n)
		text_puts(&i->t, ", ");
	va_start(ap, format);
	text_vprintf(&i->t, format, ap);
	va_end(ap);
}

static void row(struct sheet *s, const char *name, struct items *i)
{
	if (i->t.failed)
		s->failed = true;
	if (i->t.n) {
		sheet_cell(s, "%s", name);
		sheet_cell(s, "%s", i->t.s);
	}
	text_free(&i->t);
}

/* "G54", "G54.1"; what is not known is said so, what was not programmed gives nothing. */
static void g_code(struct items *i, const char *what, int code)
{
	const char *blank = what[0] ? " " : "";

	if (code == -2)
		item(i, "%s%snot known", what, blank);
	else if (code >= 0 && code % 10)
		item(i, "%s%sG%d.%d", what, blank, code / 10, code % 10);
	else if (code >= 0)
		item(i, "%s%sG%d", what, blank, code / 10);
}

static void word(struct items *i, const char *before, const struct restart_word *w)
{
	char v[SETUP_WORDS];

	if (w->programmed)
		item(i, "%s%s", before, w->known ? setup_words_number(v, w->v) : " not known");
}

static void tool(struct sheet *s, const struct restart_state *st)
{
	struct items i = {0};

	word(&i, "T", &st->tool);
	if (!st->tool.programmed)
		item(&i, "none called before");
	word(&i, "offset ", &st->offset);
	if (st->h.programmed || st->length_offset >= 0)
		g_code(&i, "length offset", st->length_offset);
	word(&i, "H", &st->h);
	word(&i, "D", &st->d);
	word(&i, "waits for its M06: T", &st->tool_next);
	row(s, "tool", &i);
}

static void work_offset(struct sheet *s, const struct restart_state *st)
{
	struct items i = {0};

	if (st->work_offset == -1)
		item(&i, "none programmed before: as the control stands");
	g_code(&i, "", st->work_offset);
	word(&i, "P", &st->work_offset_p);
	row(s, "work offset", &i);
}

static void modes(struct sheet *s, const struct restart_state *st)
{
	struct items i = {0};

	g_code(&i, "plane", st->plane);
	g_code(&i, "units", st->units);
	g_code(&i, st->distance == 910 ? "incremental" : "absolute", st->distance);
	g_code(&i, "feed mode", st->feed_mode);
	word(&i, "F", &st->feed);
	g_code(&i, "motion", st->motion);
	g_code(&i, "compensation", st->compensation);
	row(s, "modes", &i);
}

static void spindle(struct sheet *s, const struct restart_state *st)
{
	struct items i = {0};
	char v[SETUP_WORDS];

	if (st->spindle >= 0)
		item(&i, "M%02d", st->spindle);
	else if (st->spindle == -2)
		item(&i, "direction not known");
	g_code(&i, "mode", st->speed_mode);
	word(&i, "S", &st->speed);
	if (st->clamp.programmed && !st->clamp.known)
		item(&i, "clamp not known");
	else if (st->clamp.programmed)
		item(&i, "clamp %s 1/min", setup_words_number(v, st->clamp.v));
	if (!i.t.n)
		item(&i, "not started before");
	row(s, "spindle", &i);
}

static void coolant(struct sheet *s, const struct restart_state *st)
{
	struct items i = {0};

	if (st->mist == -2 || st->flood == -2)
		item(&i, "not known");
	if (st->mist == 1)
		item(&i, "M07");
	if (st->flood == 1)
		item(&i, "M08");
	if (!i.t.n)
		item(&i, "off");
	row(s, "coolant", &i);
}

static void axes(struct sheet *s, const struct restart_state *st)
{
	double unit = st->units == 200 ? MM_PER_INCH : 1;
	struct items i = {0};
	bool shifted = false;
	char v[SETUP_WORDS];

	for (int k = 0; k < SETUP_AXES; k++) {
		const struct restart_axis *a = &st->axis[k];
		double scale = k == 0 && st->diameter ? 2 : 1;

		if (a->known)
			item(&i, "%c%s", "XYZABC"[k],
			    setup_words_number(v, a->v * scale / (k < 3 ? unit : 1)));
		shifted |= a->known && a->shifted;
	}
	if (!i.t.n)
		item(&i, "not known");
	if (shifted)
		item(&i, "before the tool or its offset changed");
	row(s, "axes stand at", &i);
}

static void machine(struct sheet *s, const struct restart_state *st)
{
	struct items i = {0};

	for (size_t k = 0; k < st->codes; k++)
		item(&i, "M%02" PRIu32 " %s: %s", st->code[k].code, st->code[k].group,
		    st->code[k].text);
	row(s, "machine", &i);
}

static void by_hand(struct sheet *s, const struct restart_place *p)
{
	struct items i = {0};

	if (p->state.variables)
		item(&i, "variables were set before");
	if (p->state.origin)
		item(
		    &i, "positions or offsets were set by the program before (G92, G50, G52, G10)");
	if (p->repeats)
		item(&i, "the block is executed several times: variables say which time it is");
	row(s, "by hand", &i);
}

static const char *kind(const struct restart_place *p, char out[SETUP_WORDS])
{
	switch (p->kind) {
	case RESTART_START:
		return "the beginning";
	case RESTART_TOOL:
		return "tool change";
	case RESTART_RUNG:
		break;
	}
	snprintf(out, SETUP_WORDS, "behind %s", p->behind);
	return out;
}

void restart_words_place(struct sheet *s, const struct restart *r, const struct restart_place *p)
{
	char at[RESTART_WORDS], why[SETUP_WORDS], head[RESTART_WORDS + SETUP_WORDS + 4];
	const char *column[] = {r->name[p->channel], head};

	snprintf(head, sizeof(head), "%s (%s)", restart_words_at(at, &p->at), kind(p, why));
	sheet_table(s, column, 2);
	if (p->comment[0]) {
		sheet_cell(s, "comment");
		sheet_cell(s, "%s", p->comment);
	}
	tool(s, &p->state);
	work_offset(s, &p->state);
	modes(s, &p->state);
	spindle(s, &p->state);
	coolant(s, &p->state);
	axes(s, &p->state);
	machine(s, &p->state);
	by_hand(s, p);
}
