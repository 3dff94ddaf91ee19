/* The setup sheet: each channel's run, block by block, through the files of setup_*. */
#include "yoke/setup.h"

#include <stdlib.h>
#include "pair_words.h"
#include "setup_inside.h"

static void block(struct setup_way *w)
{
	const struct modal *m = &w->run.modal;
	struct setup_contour before = {m->contour_first, m->contour_last, m->in_contour};
	const struct nc_block *b = w->step.block;

	w->at =
	    (struct setup_place){pair_run_file(&w->run, &w->step), b->line, pair_run_sequence(b)};
	if (!(b->flags & NC_BLANK) && !(b->flags & NC_PERCENT && b->words == 0))
		w->out->blocks++;
	pair_run_do(&w->run, &w->step);
	w->out->inches |= m->units == 200;
	setup_tool_block(w);
	setup_travel_block(w, &before);
	setup_speed_block(w);
	setup_number_block(w);
	setup_list_block(w);
}

/* False without memory. */
static bool follow(struct setup_way *w)
{
	struct setup_channel *out = w->out;

	for (;;) {
		if (pair_run_next(&w->run, &w->step) != 0)
			return false;
		if (w->run.not_entered)
			setup_count(&out->not_entered, &out->call_not_entered, &w->at);
		w->assumed = w->step.assumed;
		switch (w->step.kind) {
		case TRACE_BLOCK:
			block(w);
			break;
		case TRACE_STOP:
			out->waits++;
			break;
		case TRACE_LOST:
			out->end = SETUP_LOST;
			out->why = w->step.why;
			out->lost_at = w->at;
			return true;
		case TRACE_END:
		case TRACE_ROUND:
			return true;
		}
	}
}

/* What was found, without what stayed empty. False without memory. */
static bool channel(
    const struct pair_report *r, int lane, struct setup_channel *out, bool *branches)
{
	static const struct wait_run off; /* all switches off */
	const struct program *p = r->lane[lane].program;
	const struct wait_run *run = &off;
	struct setup_way w = {.profile = r->profile, .out = out};
	bool good;

	out->name = lane_name(r, lane);
	out->diameter = r->profile->channel[lane].diameter;
	out->present = p != NULL;
	if (!p)
		return true;
	out->file = p->file;
	out->end = SETUP_UNREAD;
	if (r->unreadable)
		out->why = "a program of the pair cannot be read with certainty";
	else if (!p->bytes)
		out->why = "its text is not at hand";
	if (out->why)
		return true;
	out->end = SETUP_WHOLE;
	if (r->proved && !r->result.run[r->lane[lane].proved].on)
		run = &r->result.run[r->lane[lane].proved];
	good = pair_run_begin(&w.run, r, lane, run);
	if (good) {
		setup_number_begin(&w);
		good = follow(&w);
		setup_tool_end(&w);
		*branches |= w.assumed;
	}
	pair_run_end(&w.run);
	return good;
}

struct setup *setup_new(const struct pair_report *r)
{
	struct setup *s = calloc(1, sizeof(*s));
	struct text outcome = {0};

	if (!s)
		return NULL;
	pair_words_outcome(r, &outcome);
	s->outcome = text_take(&outcome);
	if (!s->outcome)
		goto failed;
	s->machine = r->profile->name;
	s->job = r->job;
	s->revision = r->revision;
	s->channels = r->profile->channels;
	s->branches = r->proved && r->result.branches;
	for (size_t c = 0; c < s->channels; c++)
		if (!channel(r, (int)c, &s->channel[c], &s->branches))
			goto failed;
	return s;
failed:
	setup_free(s);
	return NULL;
}

void setup_free(struct setup *s)
{
	if (!s)
		return;
	free(s->outcome);
	free(s);
}
