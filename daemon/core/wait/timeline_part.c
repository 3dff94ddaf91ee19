/* What a channel does up to its next rung, added up block by block. */
#include <stdio.h>
#include <string.h>
#include "timeline_inside.h"

double timeline_part_seconds(const struct timeline_work *w)
{
	return w->feed_seconds + w->rapid_seconds + w->dwell_seconds + w->tool_seconds;
}

void timeline_part_sum(struct timeline_work *sum, const struct timeline_work *add)
{
	sum->feed_seconds += add->feed_seconds;
	sum->rapid_seconds += add->rapid_seconds;
	sum->dwell_seconds += add->dwell_seconds;
	sum->tool_seconds += add->tool_seconds;
	sum->blocks += add->blocks;
	for (int i = 0; i < TIMELINE_LEFTS; i++)
		sum->left[i] += add->left[i];
}

void timeline_part_begin(
    struct timeline_way *w, const struct profile *profile, int number, const char *name)
{
	memset(w, 0, sizeof(*w));
	w->name = name;
	modal_begin(&w->modal, profile, &profile->channel[number]);
	w->part.channel = number;
	w->part.from_start = true;
}

void timeline_part_next(struct timeline_way *w, struct timeline_part *ended)
{
	w->part.seconds = timeline_part_seconds(&w->part.work);
	*ended = w->part;
	memset(&w->part, 0, sizeof(w->part));
	w->part.channel = ended->channel;
	w->cuts = w->own_text = false;
}

/* Lines of the program itself; those of subprograms only as long as there are no others. */
static void lines(struct timeline_way *w, const struct trace_step *step)
{
	struct timeline_part *p = &w->part;
	bool own = step->depth == 0;

	if (own == w->own_text && p->first_line) {
		p->last_line = step->block->line;
	} else if (own || !p->first_line) {
		p->first_line = p->last_line = step->block->line;
		p->file = step->file ? step->file : w->name;
		w->own_text = own;
	}
}

/* The comment beside a program number says which program it is, not what it does. */
static bool begins_program(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter == 'O' || b->word[i].letter == ':')
			return true;
	return false;
}

static void comment(struct timeline_way *w, const struct nc_block *b)
{
	size_t n = b->comment_length;

	if (!b->comment || n == 0 || (w->cuts && w->part.comment[0]) || begins_program(b))
		return;
	if (n >= sizeof(w->part.comment))
		n = sizeof(w->part.comment) - 1;
	while (n > 0 && n < b->comment_length && ((unsigned char)b->comment[n] & 0xc0) == 0x80)
		n--; /* not in the middle of a character */
	memcpy(w->part.comment, b->comment, n);
	w->part.comment[n] = '\0';
}

static void tool(struct timeline_part *p, const struct modal_number *tool)
{
	if (tool->state != MODAL_KNOWN || tool->v > UINT32_MAX)
		return;
	for (size_t i = 0; i < p->tools; i++)
		if (p->tool[i] == (uint32_t)tool->v)
			return;
	if (p->tools == TIMELINE_TOOLS_MAX)
		p->more_tools = true;
	else
		p->tool[p->tools++] = (uint32_t)tool->v;
}

static void spindle(struct timeline_way *w)
{
	struct modal_number speed = modal_speed(&w->modal), clamp = modal_clamp(&w->modal);
	char *out = w->part.spindle;
	size_t size = sizeof(w->part.spindle);

	if (speed.state != MODAL_KNOWN)
		return;
	if (w->modal.speed_mode != 960)
		snprintf(out, size, "%.6g 1/min", speed.v);
	else if (clamp.state == MODAL_KNOWN)
		snprintf(out, size, "%.6g m/min up to %.6g 1/min", speed.v, clamp.v);
	else
		snprintf(out, size, "%.6g m/min", speed.v);
}

static void left(struct timeline_work *work, enum motion_left why)
{
	static const enum timeline_left as[MOTION_LEFTS] = {
	    [MOTION_LEFT_PLACE] = TIMELINE_LEFT_PLACE,
	    [MOTION_LEFT_DISTANCE] = TIMELINE_LEFT_DISTANCE,
	    [MOTION_LEFT_FEED] = TIMELINE_LEFT_FEED,
	    [MOTION_LEFT_SPEED] = TIMELINE_LEFT_FEED,
	    [MOTION_LEFT_SHAPE] = TIMELINE_LEFT_SHAPE,
	    [MOTION_LEFT_CYCLE] = TIMELINE_LEFT_CYCLE,
	    [MOTION_LEFT_REFERENCE] = TIMELINE_LEFT_REFERENCE,
	    [MOTION_LEFT_DWELL] = TIMELINE_LEFT_DWELL,
	};

	if (why != MOTION_LEFT_NONE)
		work->left[as[why]]++;
}

static bool cutting(enum modal_act act)
{
	return act == MODAL_LINE || act == MODAL_ARC || act == MODAL_THREAD || act == MODAL_DRILL ||
	       act == MODAL_CYCLE;
}

static bool calls(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		if (w->letter == 'M' ? modal_code(w) == 980
		                     : w->letter == 'G' && modal_code(w) == 650)
			return true;
	}
	return false;
}

/* The step behind a call shows whether it was gone into. */
static void passed(struct timeline_way *w, const struct trace_step *step)
{
	if (w->called && step->depth <= w->from) {
		modal_passed(&w->modal);
		w->part.work.left[TIMELINE_LEFT_CALL]++;
	}
	w->called = step->kind == TRACE_BLOCK && calls(step->block);
	w->from = step->depth;
}

static void moves(struct timeline_way *w, const struct nc_block *b)
{
	struct timeline_work *work = &w->part.work;
	struct modal_step done;
	struct motion motion;

	modal_block(&w->modal, b, &done);
	motion_of(&w->modal, &done, &motion);
	work->feed_seconds += motion.feed_seconds;
	work->rapid_seconds += motion.rapid_seconds;
	work->dwell_seconds += motion.dwell_seconds;
	work->tool_seconds += motion.tool_seconds;
	left(work, motion.left);
	left(work, motion.left_dwell);
	work->left[TIMELINE_LEFT_STOP] += done.stop + done.optional_stop;
	if (done.act != MODAL_STILL)
		tool(&w->part, &w->modal.tool);
	if (cutting(done.act) && !w->cuts) {
		w->cuts = true;
		spindle(w);
	}
}

void timeline_part_step(struct timeline_way *w, const struct trace_step *step)
{
	passed(w, step);
	if (step->kind != TRACE_BLOCK)
		return;
	if (!(step->block->flags & NC_BLANK)) {
		w->part.work.blocks++;
		lines(w, step);
	}
	comment(w, step->block);
	moves(w, step->block);
}
