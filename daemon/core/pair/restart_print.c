/* Restart places in words. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include "restart_inside.h"

const char *const restart_cautions[] = {
    "Many controls ignore wait codes while they search for a block. After a start in the middle of "
    "a "
    "program all channels must be placed at matching wait points by hand: take the blocks of one "
    "segment, one for each channel, and no others.",
    "What must be in force before a block is what the programs set up to there. The control does "
    "not "
    "know it unless it reads it while it searches: set it by hand and compare it.",
    "Clear the axes first: the way from where they stand to the first position is not in the "
    "program.",
    "Prove out a restart like a new pair: single block, rapid override low, guard closed, hand at "
    "feed hold. Check work offsets and tool offsets of all channels.",
    "That wait codes agree does not prove that tools cannot meet. Follow the machine builder's "
    "manual, the shop's rules and local regulations; trained and authorised persons only.",
    NULL,
};

static void cautions(struct sheet *s)
{
	sheet_add(s, SHEET_HEAD, "Before a restart");
	for (size_t i = 0; restart_cautions[i]; i++)
		sheet_add(s, SHEET_POINT, "%s", restart_cautions[i]);
}

static void head(struct sheet *s, const struct restart *r)
{
	struct text files = {0};

	sheet_add(s, SHEET_TITLE, "Restart places: job %s, revision %s%s%s",
	    r->job[0] ? r->job : "unknown", r->revision[0] ? r->revision : "unknown",
	    r->machine[0] ? ", machine " : "", r->machine);
	for (size_t c = 0; c < r->channels; c++)
		if (r->file[c])
			text_printf(
			    &files, "%s%s (%s)", files.n ? ", " : "", r->file[c], r->name[c]);
	sheet_add(s, SHEET_PARAGRAPH, "Computed from %s.", files.s ? files.s : "nothing");
	s->failed |= files.failed;
	text_free(&files);
	sheet_add(s, SHEET_PARAGRAPH, "Check: %s", r->outcome);
	sheet_add(s, SHEET_PARAGRAPH, "Block-skip switches: %s", r->switches);
	if (r->branches)
		sheet_add(s, SHEET_PARAGRAPH,
		    "Which blocks are executed depends on data that is not in the programs: this "
		    "is one "
		    "run of several.");
	if (r->end == RESTART_STUCK)
		sheet_add(s, SHEET_PARAGRAPH,
		    "The wait codes do not agree: behind the last segment the channels stand for "
		    "ever, "
		    "wherever they are started.");
	if (r->end == RESTART_LOST)
		sheet_add(s, SHEET_PARAGRAPH,
		    "NOT WHOLE: the programs were not followed to their ends: %s.",
		    r->why ? r->why : "no reason is known");
}

static const char *segment_name(uint64_t number, const char *behind, char out[RESTART_WORDS])
{
	if (behind[0])
		snprintf(out, RESTART_WORDS, "%" PRIu64 ", behind %s", number, behind);
	else
		snprintf(out, RESTART_WORDS, "%" PRIu64 ", from the start", number);
	return out;
}

/* The blocks of one channel in a segment, or why there is none. places: those from first on. */
static void blocks(struct sheet *s, const struct restart *r, const struct restart_segment *g,
    int channel, size_t first)
{
	struct text t = {0};
	char at[RESTART_WORDS];

	for (size_t i = first; i < r->places && r->place[i].first <= g->number; i++) {
		const struct restart_place *p = &r->place[i];

		if (p->channel != channel || p->last < g->number)
			continue;
		text_printf(&t, "%s%s%s", t.n ? "; " : "", restart_words_at(at, &p->at),
		    p->kind == RESTART_TOOL ? " (tool change)" : "");
	}
	if (!t.n && g->unfit[channel])
		text_printf(&t, "none: %s", g->unfit[channel]);
	else if (!t.n)
		text_puts(&t, g->has[channel] ? "not kept" : "none");
	s->failed |= t.failed;
	sheet_cell(s, "%s", t.s ? t.s : "");
	text_free(&t);
}

/* Which blocks match. */
static void overview(struct sheet *s, const struct restart *r)
{
	const char *column[1 + YOKE_CHANNELS_MAX] = {"Segment"};
	char name[RESTART_WORDS];
	size_t columns = 1, first = 0;
	bool signals = false;

	sheet_add(s, SHEET_HEAD, "Blocks that match");
	for (size_t c = 0; c < r->channels; c++)
		if (r->file[c])
			column[columns++] = r->name[c];
	sheet_table(s, column, columns);
	for (size_t i = 0; i < r->segments; i++) {
		const struct restart_segment *g = &r->segment[i];

		while (first < r->places && r->place[first].last < g->number)
			first++;
		sheet_cell(
		    s, "%s%s", segment_name(g->number, g->behind, name), g->signals ? " *" : "");
		signals |= g->signals;
		for (size_t c = 0; c < r->channels; c++)
			if (r->file[c])
				blocks(s, r, g, (int)c, first);
	}
	if (r->segments_more || r->places_more)
		sheet_add(s, SHEET_PARAGRAPH,
		    "And %" PRIu64 " more segments and %" PRIu64
		    " more places that are not listed: name a block with --near.",
		    r->segments_more, r->places_more);
	if (signals)
		sheet_add(s, SHEET_PARAGRAPH,
		    "*: a signal was sent before and is not used up yet: a control that was "
		    "started "
		    "here does not have it.");
	sheet_add(s, SHEET_PARAGRAPH,
	    "Start all channels in the same segment. A segment in which one of them has no block "
	    "is "
	    "no place to start.");
}

static void details(struct sheet *s, const struct restart *r)
{
	sheet_add(s, SHEET_HEAD, "What must be in force before each block");
	for (size_t i = 0; i < r->places; i++)
		restart_words_place(s, r, &r->place[i]);
}

static const char *asked(
    const struct restart *r, const struct restart_near *n, char out[RESTART_WORDS])
{
	snprintf(out, RESTART_WORDS, n->ask.line ? "%.64s line %" PRIu64 : "%.64s N%" PRIu64,
	    r->name[n->ask.channel], n->ask.value);
	return out;
}

/* What is known of one block that was asked for. */
static void answer(struct sheet *s, const struct restart *r, const struct restart_near *n)
{
	char name[RESTART_WORDS], at[RESTART_WORDS];

	if (!n->found) {
		sheet_add(s, SHEET_POINT, "%s is not executed in this run.", asked(r, n, name));
		return;
	}
	sheet_add(s, SHEET_POINT,
	    "%s (%s) lies in segment %" PRIu64 " (meetings passed: %" PRIu64 ").",
	    asked(r, n, name), restart_words_at(at, &n->at), n->first, n->first);
	if (n->unfit)
		sheet_add(s, SHEET_POINT, "It cannot be a start block: %s.", n->unfit);
	if (n->times > 1)
		sheet_add(s, SHEET_POINT,
		    "It is executed %" PRIu64 " times; the first time is meant.", n->times);
	if (n->elsewhere)
		sheet_add(s, SHEET_POINT,
		    "The same N stands in other lines too; the first one executed is meant. Name "
		    "the "
		    "line instead.");
}

/* A channel's place beside the block that was asked for: near the block that was asked for there,
 * if one was, in the same segment. */
static const struct restart_place *place(
    const struct restart *r, const struct restart_near *n, int channel)
{
	for (size_t i = 0; i < r->nears; i++) {
		const struct restart_near *other = &r->near[i];

		if (other->ask.channel == channel && other->pair && other->segment == n->segment)
			return &other->place[channel];
	}
	return &n->place[channel];
}

/* An earlier ask has shown this segment. */
static bool shown(const struct restart *r, size_t ask)
{
	for (size_t i = 0; i < ask; i++)
		if (r->near[i].found && r->near[i].pair && r->near[ask].pair &&
		    r->near[i].segment == r->near[ask].segment)
			return true;
	return false;
}

static void nearest(struct sheet *s, const struct restart *r, const struct restart_near *n)
{
	char name[RESTART_WORDS];

	if (!n->found)
		return;
	if (!n->pair) {
		sheet_add(s, SHEET_PARAGRAPH,
		    "No segment up to %s has a place in every channel: start from the beginning.",
		    asked(r, n, name));
		return;
	}
	sheet_add(s, SHEET_HEAD, "Nearest matching places to %s: segment %" PRIu64,
	    asked(r, n, name), n->segment);
	for (size_t c = 0; c < r->channels; c++)
		if (n->has[c])
			restart_words_place(s, r, place(r, n, (int)c));
}

static void danger(struct sheet *s, const struct restart *r)
{
	char name[RESTART_WORDS];
	struct text t = {0};

	sheet_add(s, SHEET_HEAD, "DANGEROUS: these blocks lie in different segments");
	for (size_t i = 0; i < r->nears; i++)
		if (r->near[i].found)
			text_printf(&t, "%s%s lies in segment %" PRIu64, t.n ? ", " : "",
			    asked(r, &r->near[i], name), r->near[i].first);
	s->failed |= t.failed;
	sheet_add(s, SHEET_PARAGRAPH,
	    "%s. Started there, the channels would meet at codes that do not belong together, or "
	    "wait "
	    "for ever, and work side by side where they never should. Do not start there. The "
	    "nearest "
	    "places that match and leave nothing out are told below.",
	    t.s ? t.s : "");
	text_free(&t);
}

static void asks(struct sheet *s, const struct restart *r)
{
	int best = restart_nearest(r);
	size_t found = 0;

	sheet_add(s, SHEET_HEAD, "What was asked for");
	for (size_t i = 0; i < r->nears; i++) {
		answer(s, r, &r->near[i]);
		found += r->near[i].found;
	}
	if (found > 1 && !r->dangerous)
		sheet_add(s, SHEET_PARAGRAPH, "%s lie in one segment.",
		    found == r->nears ? "These blocks" : "Those that are executed");
	for (size_t i = 0; i < r->nears; i++)
		if ((!r->dangerous || (int)i == best || best < 0) && !shown(r, i))
			nearest(s, r, &r->near[i]);
}

void restart_print(const struct restart *r, unsigned width, struct text *out)
{
	struct sheet s = {0};

	head(&s, r);
	if (r->dangerous)
		danger(&s, r);
	cautions(&s);
	if (r->nears) {
		asks(&s, r);
	} else if (r->segments) {
		overview(&s, r);
		details(&s, r);
	}
	sheet_print(&s, width, out);
	sheet_free(&s);
}
