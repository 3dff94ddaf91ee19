#include <stdio.h>
#include <string.h>
#include "ladder_rung.h"

enum {
	SHOW_ALL = 16, /* so many rungs are drawn without leaving any out */
	SHOW_FIRST = 4,
	SHOW_LAST = 8,
	ARROW = 16, /* cells of an arrow that meets nothing, at most */
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

void ladder_rung_spacer(struct ladder *l)
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

void ladder_rung_place(
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

/* Where the channels stand in the text: beside the life lines of two, below the rung of more. */
static void places(struct ladder *l, const struct wait_rung *rung)
{
	for (int i = 0; i < l->lanes; i++) {
		const struct wait_stop *stop = stop_of(l, rung, i);
		bool left = l->lanes == 2 && i == 0;
		long room = l->lanes == 2      ? l->x[0] - 2
		            : i + 1 < l->lanes ? l->gap - 3
		                               : LADDER_RUNG_BESIDE - 2;
		char s[64];

		if (!stop || stop->at_end || !stop->code)
			continue;
		ladder_rung_place(s, sizeof(s), stop->code, left, (size_t)room);
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
	ladder_rung_spacer(l);
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
	ladder_rung_spacer(l);
	left_out(l, rung->repeat);
}

/* An arrow that meets nothing: from the life line towards the others, never shorter than its code.
 */
static void open_arrow(struct ladder *l, int lane, uint32_t code)
{
	bool leftwards = l->lanes == 2 && lane == 1;
	long x = l->x[lane], from, to, least;
	long reach = l->lanes == 2 ? l->gap / 2 - 3 : l->gap - 4;
	char label[32];

	least = snprintf(label, sizeof(label), " M%u ", (unsigned)code) + 1;
	if (reach > ARROW)
		reach = ARROW;
	if (reach < least)
		reach = least;
	from = leftwards ? x - reach : x;
	to = leftwards ? x : x + reach;
	ladder_row_fill(&l->row, from, to, l->g->twice);
	ladder_row_put(&l->row, x, leftwards ? l->g->twice_right : l->g->twice_left);
	ladder_row_put(&l->row, leftwards ? from : to, leftwards ? l->g->to_left : l->g->to_right);
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
		ladder_rung_spacer(l);
		return;
	}
	for (int line = 0; line < 2; line++) {
		begin(l);
		for (int i = 0; i < l->lanes; i++)
			outcome_word(l, i, stop_of(l, rung, i), line == 0);
		end(l);
	}
	ladder_rung_spacer(l);
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
		for (int i = 0; i < l->lanes; i++)
			l->ended[i] = stop_of(l, rung, i) && stop_of(l, rung, i)->at_end;
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
	ladder_rung_spacer(l);
	across(l, l->r->programs < (size_t)l->lanes ? "? a program is missing ?"
	                                            : "? cannot tell from here ?");
	ladder_rung_spacer(l);
}

void ladder_rung_all(struct ladder *l)
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
