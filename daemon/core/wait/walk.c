#include "walk.h"

#include <stdlib.h>
#include <string.h>

/* Who called, and how often the called program is still to run. */
struct wait_frame {
	uint32_t unit;
	uint32_t left;
	size_t next;
};

bool wait_walk_begin(struct wait_walk *w, const struct wait_flow *f)
{
	memset(w, 0, sizeof *w);
	w->f = f;
	w->frame = calloc((size_t)f->unit[0].height + 1, sizeof *w->frame);
	return w->frame != NULL;
}

void wait_walk_restart(struct wait_walk *w, uint32_t on)
{
	w->on = on;
	w->steps = 0;
	w->depth = 0;
	w->unit = 0;
	w->next = w->f->unit[0].first;
	w->kind = WAIT_WALK_CODE;
	w->at = NULL;
	w->skips = 0;
	w->repeats = w->round = false;
}

void wait_walk_again(struct wait_walk *w)
{
	w->next = w->f->unit[0].first;
	w->kind = WAIT_WALK_CODE;
	w->repeats = false;
	w->round = true;
}

bool wait_walk_copy(struct wait_walk *to, const struct wait_walk *from)
{
	size_t n = (size_t)from->f->unit[0].height + 1;

	*to = *from;
	to->frame = calloc(n, sizeof *to->frame);
	if (to->frame)
		memcpy(to->frame, from->frame, n * sizeof *to->frame);
	return to->frame != NULL;
}

void wait_walk_end(struct wait_walk *w)
{
	free(w->frame);
	w->frame = NULL;
}

static enum wait_walk_kind answer(
    struct wait_walk *w, enum wait_walk_kind kind, const struct wait_event *e)
{
	w->at = e;
	return w->kind = kind;
}

/* The end of a called program: once more, or back to the caller. */
static void come_back(struct wait_walk *w)
{
	struct wait_frame *top = &w->frame[w->depth];

	if (top->left > 1) {
		top->left--;
		w->steps++;
		w->next = w->f->unit[w->unit].first;
		return;
	}
	w->unit = top->unit;
	w->next = top->next;
	w->depth--;
}

static void call(struct wait_walk *w, const struct wait_event *e)
{
	w->steps++;
	w->depth++;
	w->frame[w->depth] =
	    (struct wait_frame){.unit = w->unit, .left = e->repeat, .next = w->next};
	w->unit = e->target;
	w->next = w->f->unit[e->target].first;
}

static bool skips(struct wait_walk *w, const struct wait_event *e)
{
	if (!e->skip || !(w->on >> e->skip & 1))
		return false;
	if (w->skips < WAIT_WALK_SKIPPED)
		w->skipped[w->skips++] = e;
	return true;
}

/* M99 in the main program ends it where the profile says so, or where nothing more can come of it.
 */
static bool m99_ends(const struct wait_walk *w)
{
	return w->f->profile->end_m99 || !w->f->unit[0].relevant;
}

enum wait_walk_kind wait_walk_next(struct wait_walk *w)
{
	const struct wait_flow *f = w->f;

	if (w->kind != WAIT_WALK_CODE)
		return w->kind;
	w->skips = 0;
	if (f->mains)
		return answer(w, WAIT_WALK_UNKNOWN, NULL);
	for (;;) {
		const struct wait_event *e;
		if (w->steps > f->profile->run_max)
			return answer(w, WAIT_WALK_LONG, w->at);
		if (w->next == f->unit[w->unit].end) {
			if (!w->depth)
				return answer(w, WAIT_WALK_END, NULL);
			come_back(w);
			continue;
		}
		e = &f->event[w->next++];
		if (skips(w, e))
			continue;
		switch ((enum wait_event_kind)e->kind) {
		case WAIT_EVENT_CODE:
			w->steps++;
			return answer(w, WAIT_WALK_CODE, e);
		case WAIT_EVENT_CALL:
			call(w, e);
			break;
		case WAIT_EVENT_RETURN:
			if (!w->depth) {
				w->repeats = true;
				return answer(
				    w, m99_ends(w) ? WAIT_WALK_END : WAIT_WALK_UNKNOWN, e);
			}
			come_back(w);
			break;
		case WAIT_EVENT_END:
			return answer(w, WAIT_WALK_END, e);
		case WAIT_EVENT_MACRO:
		case WAIT_EVENT_JUMP:
		case WAIT_EVENT_UNKNOWN:
			return answer(w, WAIT_WALK_UNKNOWN, e);
		case WAIT_EVENT_NONE:
			break;
		}
	}
}

const struct wait_code *wait_walk_code(const struct wait_walk *w)
{
	return w->kind == WAIT_WALK_CODE && w->at ? &w->f->code[w->at->target] : NULL;
}
