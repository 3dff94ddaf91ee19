/* One channel on its way: which of its blocks are places where it can be picked up. */
#include <stdlib.h>
#include <string.h>
#include "restart_inside.h"

bool restart_lane_begin(
    struct restart_lane *l, const struct pair_report *r, int channel, const struct wait_run *run)
{
	const struct wait_flow *f = r->lane[channel].program->flow;

	memset(l, 0, sizeof(*l));
	l->channel = channel;
	return pair_run_begin(&l->run, r, channel, run) && restart_range_loops(f, &l->loops) &&
	       restart_range_jumps(f, &l->jumps);
}

void restart_lane_end(struct restart_lane *l)
{
	pair_run_end(&l->run);
	free(l->loops.v);
	free(l->jumps.v);
}

/* Something is executed: words besides a program number, or variables. */
static bool executes(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter != 'O')
			return true;
	return (b->flags & (NC_MACRO | NC_CALL)) != 0;
}

static bool ends(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++) {
		int code = b->word[i].letter == 'M' ? modal_code(&b->word[i]) : -1;

		if (code == 20 || code == 300 || code == 990)
			return true;
	}
	return false;
}

static bool in_cycle(const struct modal *m)
{
	if (m->channel->diameter && (m->motion == 900 || m->motion == 920 || m->motion == 940))
		return true;
	return !m->channel->diameter && m->motion >= 730 && m->motion < 900 && m->motion != 800;
}

/* Why the block at hand is no place; NULL when it can be one. */
static const char *unfit(const struct restart_lane *l)
{
	const struct modal *m = &l->run.modal;
	const struct nc_block *b = l->step.block;

	if (!executes(b))
		return "nothing is executed in it";
	if (l->step.depth > 0)
		return "it stands in a subprogram: the control would not know the way back";
	if (b->skip)
		return "it can be skipped by a switch";
	if (ends(b))
		return "the program ends there";
	if (m->compensation == 410 || m->compensation == 420)
		return "tool-nose or cutter compensation is on (G41, G42)";
	if (m->compensation == MODAL_LOST)
		return "it is not known whether compensation is on (G41, G42)";
	if (m->contour_first >= 0)
		return "it belongs to the contour of a cycle";
	if (in_cycle(m))
		return "a canned cycle is in force";
	if (l->modal_call)
		return "a modal macro call is in force (G66)";
	if (m->transformed)
		return "axes are scaled, polar or on a cylinder";
	if (restart_range_holds(&l->loops, b->offset))
		return "it stands in a loop (WHILE): the control would not know its beginning";
	return NULL;
}

/* It may change the tool: only the block's execution tells. */
static bool may_change(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter == 'T' ||
		    (b->word[i].letter == 'M' && modal_code(&b->word[i]) == 60))
			return true;
	return false;
}

static void comment(const struct nc_block *b, char out[RESTART_TEXT_MAX])
{
	size_t n = b->comment ? b->comment_length : 0;

	if (n >= RESTART_TEXT_MAX) {
		n = RESTART_TEXT_MAX - 1;
		while (n && ((unsigned char)b->comment[n] & 0xc0) == 0x80)
			n--; /* not in the middle of a character */
	}
	if (n)
		memcpy(out, b->comment, n);
	out[n] = '\0';
}

static struct setup_place here(const struct restart_lane *l)
{
	return (struct setup_place){pair_run_file(&l->run, &l->step), l->step.block->line,
	    pair_run_sequence(l->step.block)};
}

static void take(const struct restart_lane *l, enum restart_kind kind, struct restart_place *p)
{
	memset(p, 0, sizeof(*p));
	p->kind = kind;
	p->channel = l->channel;
	p->at = here(l);
	p->first = p->last = l->part_first;
	memcpy(p->behind, l->behind, sizeof(p->behind));
	comment(l->step.block, p->comment);
	p->repeats = restart_range_holds(&l->jumps, l->step.block->offset);
	restart_state_take(l, &p->state);
}

/* False without memory. */
static bool keep(struct restart_lane *l, struct restart *out, const struct restart_place *p)
{
	/* room doubles: it is full whenever the count is a power of two */
	if (out->places < RESTART_PLACES_MAX && (out->places & (out->places - 1)) == 0) {
		size_t room = out->places ? 2 * out->places : 1;
		struct restart_place *grown = reallocarray(out->place, room, sizeof(*grown));

		if (!grown)
			return false;
		out->place = grown;
	}
	if (out->places < RESTART_PLACES_MAX)
		out->place[out->places++] = *p;
	else
		out->places_more++;
	if (!l->has_first)
		l->first = *p;
	l->has_first = true;
	l->last = *p;
	return true;
}

/* The asks, bit by bit, that name this block and that it is the first to answer. */
static uint32_t look(struct restart_lane *l, struct restart *out)
{
	const struct nc_block *b = l->step.block;
	struct setup_place at = here(l);
	uint32_t answered = 0;

	for (size_t i = 0; i < out->nears; i++) {
		struct restart_near *n = &out->near[i];
		const struct restart_ask *a = &n->ask;

		if (a->channel != l->channel || l->step.file ||
		    (a->line ? b->line != a->value : at.sequence != (int64_t)a->value))
			continue;
		if (n->found) {
			n->times += b->line == n->at.line;
			n->elsewhere |= b->line != n->at.line;
			continue;
		}
		n->found = true;
		n->at = at;
		n->times = 1;
		n->first = n->last = l->part_first;
		n->unfit = unfit(l);
		l->asked_here[i] = true;
		answered |= 1u << i;
	}
	return answered;
}

/* The last place at or before the blocks that were asked for. */
static void nearest(struct restart_lane *l, uint32_t answered)
{
	for (size_t i = 0; i < YOKE_CHANNELS_MAX; i++) {
		if (!(answered >> i & 1))
			continue;
		l->has_asked[i] = l->has_first;
		l->asked[i] = l->last;
	}
}

/* False without memory. */
static bool block(struct restart_lane *l, struct restart *out, const struct profile *profile)
{
	bool first = !l->has_first, tool = may_change(l->step.block);
	const char *why = first || tool ? unfit(l) : NULL;
	struct restart_place p;

	if (first && !why) {
		take(l, l->behind[0] ? RESTART_RUNG : RESTART_START, &p);
		if (!keep(l, out, &p))
			return false;
	} else if (first && executes(l->step.block) && !l->unfit) {
		l->unfit = why;
	}
	if (!first && tool && !why)
		take(l, RESTART_TOOL, &p);
	pair_run_do(&l->run, &l->step);
	if (!first && tool && !why && l->run.done.tool_change && !keep(l, out, &p))
		return false;
	restart_state_block(l, profile);
	return true;
}

bool restart_lane_advance(struct restart_lane *l, struct restart *out, uint64_t segment)
{
	const struct profile *profile = l->run.program->profile;
	uint32_t answered;

	l->part_first = segment;
	l->places_first = out->places;
	l->has_first = false;
	l->unfit = NULL;
	l->code = NULL;
	memset(l->asked_here, 0, sizeof(l->asked_here));
	for (;;) {
		if (pair_run_next(&l->run, &l->step) != 0)
			return false;
		if (l->step.kind != TRACE_BLOCK)
			break;
		answered = out->nears ? look(l, out) : 0;
		if (!block(l, out, profile))
			return false;
		nearest(l, answered);
	}
	l->stands = l->step.kind;
	l->why = l->step.why;
	out->branches |= l->step.assumed;
	if (l->stands == TRACE_STOP)
		l->code = l->step.code;
	return true;
}

void restart_lane_close(struct restart_lane *l, struct restart *out, uint64_t segment)
{
	for (size_t i = l->places_first; i < out->places; i++)
		if (out->place[i].channel == l->channel)
			out->place[i].last = segment;
	for (size_t i = 0; i < out->nears; i++)
		if (l->asked_here[i])
			out->near[i].last = segment;
	if (l->code)
		restart_words_code(l->run.program->profile, l->code, l->behind);
}
