#include <stdio.h>
#include <string.h>
#include "ladder_part.h"
#include "ladder_rung.h"

enum { ARROW = 16 }; /* cells of an arrow that meets nothing, at most */

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
    char *s, size_t size, const struct pair_stop *stop, bool mirrored, size_t max)
{
	unsigned long long line = stop->line;
	long long n = stop->sequence;
	int need = n < 0      ? (int)size
	           : mirrored ? snprintf(s, size, "N%lld  line %llu", n, line)
	                      : snprintf(s, size, "line %llu  N%lld", line, n);

	if (need < 0 || (size_t)need >= size || (size_t)need > max)
		snprintf(s, size, "line %llu", line);
}

/* Where the channels stand in the text: beside the life lines of two, below the rung of more. */
static void places(struct ladder *l, const struct pair_rung *rung)
{
	for (int i = 0; i < l->lanes; i++) {
		const struct pair_stop *stop = &rung->channel[i];
		bool left = l->lanes == 2 && i == 0;
		long room = l->lanes == 2      ? left ? l->x[0] - 2 : l->beside - 3
		            : i + 1 < l->lanes ? l->gap - 3
		                               : LADDER_RUNG_BESIDE - 2;
		char s[64];

		if (!stop->line)
			continue;
		ladder_rung_place(s, sizeof(s), stop, left, (size_t)room);
		if (left)
			ladder_row_text(&l->row, l->x[i] - 2 - (long)strlen(s), s);
		else
			ladder_row_text(&l->row, l->x[i] + (l->lanes == 2 ? 3 : 2), s);
	}
}

/* Cells for words right of a life line. */
static size_t beside(const struct ladder *l, int lane)
{
	long room = lane + 1 < l->lanes ? l->gap - 3 : l->beside - 2;

	return room > 0 ? (size_t)room : 0;
}

/* What each channel does before a rung, right of its life line, and when the rung is. */
static void parts(struct ladder *l, const struct ladder_item *item)
{
	char line[YOKE_CHANNELS_MAX][LADDER_PART_LINES][LADDER_PART_SIZE];
	size_t n[YOKE_CHANNELS_MAX] = {0}, most = 0;

	for (int i = 0; i < l->lanes; i++) {
		if (item->part[i])
			n[i] = ladder_part_lines(item->part[i], beside(l, i), line[i]);
		most = n[i] > most ? n[i] : most;
	}
	for (size_t k = 0; k < most; k++) {
		begin(l);
		for (int i = 0; i < l->lanes; i++) {
			if (k < n[i] && beside(l, i))
				ladder_row_fit(&l->row, l->x[i] + 2, line[i][k], beside(l, i));
		}
		end(l);
	}
	if (most)
		ladder_rung_spacer(l);
}

static void left_out(struct ladder *l, uint64_t n)
{
	char s[80];

	begin(l);
	for (int i = 0; i < l->lanes; i++)
		ladder_row_put(&l->row, l->x[i], l->g->more);
	snprintf(
	    s, sizeof(s), "%llu more meeting%s, in step", (unsigned long long)n, n > 1 ? "s" : "");
	centred(l, (l->x[0] + l->x[l->lanes - 1]) / 2, s);
	end(l);
	ladder_rung_spacer(l);
}

/* The first and the last channel that goes on from this rung. */
static void reach(const struct ladder *l, const struct pair_rung *rung, int *first, int *last)
{
	*first = *last = -1;
	for (int i = 0; i < l->lanes; i++) {
		if (!rung->channel[i].goes)
			continue;
		if (*first < 0)
			*first = i;
		*last = i;
	}
}

/* A signal that is sent, or used up: it touches one life line. */
static void signal_mark(struct ladder *l, int lane, const char *code)
{
	char label[40];

	snprintf(label, sizeof(label), " %s ", code);
	ladder_row_put(&l->row, l->x[lane], l->g->left);
	ladder_row_text(&l->row, l->x[lane] + 1, label);
}

static void across_rung(struct ladder *l, const struct pair_rung *rung, int first, int last)
{
	char label[40];

	snprintf(label, sizeof(label), " %s ", ladder_plan_code(rung));
	ladder_row_fill(&l->row, l->x[first] + 1, l->x[last], l->g->across);
	for (int i = first; i <= last; i++) {
		if (rung->channel[i].goes)
			ladder_row_put(&l->row, l->x[i],
			    i == first  ? l->g->left
			    : i == last ? l->g->right
			                : l->g->cross);
		if (i < last)
			centred(l, l->x[i] + l->gap / 2, label);
	}
}

static void meeting(struct ladder *l, const struct pair_rung *rung)
{
	int first, last;

	reach(l, rung, &first, &last);
	if (first < 0)
		return;
	begin(l);
	if (first == last)
		signal_mark(l, first, rung->channel[first].code);
	else
		across_rung(l, rung, first, last);
	if (l->lanes > 2) {
		end(l);
		begin(l);
	}
	places(l, rung);
	end(l);
	ladder_rung_spacer(l);
}

/* An arrow that meets nothing: from the life line towards the others, never shorter than its code.
 */
static void open_arrow(struct ladder *l, int lane, const char *code)
{
	bool leftwards = l->lanes == 2 && lane == 1;
	long x = l->x[lane], from, to, least;
	long reach = l->lanes == 2 ? l->gap / 2 - 3 : l->gap - 4;
	char label[40];

	least = snprintf(label, sizeof(label), " %s ", code) + 1;
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
static void outcome_word(struct ladder *l, int lane, const struct pair_stop *stop, bool first)
{
	const char *s = first ? "waits" : "for ever";
	long x = l->x[lane];

	if (stop->at_end) {
		if (first)
			centred(l, x, "ended");
	} else if (stop->code[0]) {
		bool left = l->lanes == 2 && lane == 1;

		ladder_row_text(&l->row, left ? x - 2 - (long)strlen(s) + 1 : x + 2, s);
	}
}

/* Below a failed rung: who waits, who has ended. */
static void outcome_words(struct ladder *l, const struct pair_rung *rung)
{
	int waiting = 0;

	for (int i = 0; i < l->lanes; i++) {
		const struct pair_stop *stop = &rung->channel[i];

		l->open[i] = true;
		l->ended[i] = stop->at_end;
		waiting += stop->code[0] != 0;
	}
	if (l->lanes == 2 && waiting == 2) {
		across(l, "both wait for ever");
		ladder_rung_spacer(l);
		return;
	}
	for (int line = 0; line < 2; line++) {
		begin(l);
		for (int i = 0; i < l->lanes; i++)
			outcome_word(l, i, &rung->channel[i], line == 0);
		end(l);
	}
	ladder_rung_spacer(l);
}

static void failure(struct ladder *l, const struct pair_rung *rung)
{
	begin(l);
	for (int i = 0; i < l->lanes; i++) {
		const struct pair_stop *stop = &rung->channel[i];

		if (stop->code[0])
			open_arrow(l, i, stop->code);
		else if (stop->at_end)
			end_symbol(l, i);
		else if (l->r->lane[i].program)
			ladder_row_put(&l->row, l->x[i], "?");
	}
	if (l->lanes == 2) {
		ladder_row_put(&l->row, (l->x[0] + l->x[1]) / 2, l->g->fail);
		places(l, rung);
		end(l);
	} else {
		end(l);
		for (int i = 0; i < l->lanes; i++)
			l->ended[i] = rung->channel[i].at_end;
		begin(l);
		places(l, rung);
		end(l);
	}
	outcome_words(l, rung);
}

static void all_end(struct ladder *l, const struct pair_rung *rung)
{
	begin(l);
	for (int i = 0; i < l->lanes; i++)
		end_symbol(l, i);
	end(l);
	ladder_row_begin(&l->row, l->width, l->ascii);
	for (int i = 0; i < l->lanes; i++)
		centred(l, l->x[i], rung->channel[i].begins ? "begins again" : "end");
	end(l);
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

void ladder_rung_all(struct ladder *l, const struct ladder_plan *plan)
{
	for (size_t i = 0; i < plan->items; i++) {
		const struct ladder_item *item = &plan->item[i];

		if (item->kind != LADDER_OMITTED)
			parts(l, item);
		switch (item->kind) {
		case LADDER_RUNG:
			meeting(l, &item->rung);
			break;
		case LADDER_OMITTED:
			left_out(l, item->omitted);
			break;
		case LADDER_ENDED:
			all_end(l, &item->rung);
			break;
		case LADDER_FAILED:
			failure(l, &item->rung);
			break;
		case LADDER_LOST:
			unknown(l);
			break;
		}
	}
}
