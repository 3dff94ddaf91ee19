/*
 * A walk answers at what a proof stops at. It goes on from there by wait_walk_step.
 *
 *   WENT ---> CODE, ROUND: stands; the next step goes on
 *        ---> BRANCH: stands until wait_walk_take
 *        ---> END, UNKNOWN, LONG, ENDLESS: for good
 */
#include "walk.h"

#include <stdlib.h>
#include <string.h>
#include "walk_inside.h"

static size_t frames(const struct wait_flow *f)
{
	return (size_t)f->profile->call_depth + 1;
}

bool wait_walk_begin(struct wait_walk *w, const struct wait_flow *f, bool all)
{
	struct wait_walk *mark;

	memset(w, 0, sizeof *w);
	w->f = f;
	w->all = all;
	w->frame = calloc(frames(f), sizeof *w->frame);
	w->modal = calloc(1, sizeof *w->modal);
	w->mark = calloc(1, sizeof *w->mark);
	if (!w->frame || !w->modal || !w->mark)
		goto no_memory;
	mark = &w->mark->at;
	mark->f = f;
	mark->frame = calloc(frames(f), sizeof *mark->frame);
	mark->modal = calloc(1, sizeof *mark->modal);
	if (!mark->frame || !mark->modal)
		goto no_memory;
	wait_walk_restart(w, 0);
	return true;

no_memory:
	wait_walk_end(w);
	return false;
}

void wait_walk_end(struct wait_walk *w)
{
	if (w->mark) {
		free(w->mark->at.frame);
		free(w->mark->at.modal);
	}
	free(w->frame);
	free(w->modal);
	free(w->mark);
	w->frame = NULL;
	w->modal = NULL;
	w->mark = NULL;
}

void wait_walk_restart(struct wait_walk *w, uint32_t on)
{
	w->on = on;
	w->steps = 0;
	w->unit = 0;
	w->next = w->f->unit[0].first;
	w->depth = 0;
	w->round = w->assumed = false;
	w->move = WAIT_MOVE_BEGIN;
	w->skips = 0;
	w->modal->on = false;
	w->frame[0] = (struct wait_frame){.left = 1};
	wait_walk_answer(w, WAIT_WALK_WENT, WAIT_NOWHERE, NULL);
}

void wait_walk_assign(struct wait_walk *to, const struct wait_walk *from)
{
	struct wait_frame *frame = to->frame;
	struct wait_modal *modal = to->modal;
	struct wait_mark *mark = to->mark;

	*to = *from;
	to->frame = frame;
	to->modal = modal;
	to->mark = mark;
	if (mark) {
		mark->set = false;
		mark->since = mark->due = 0;
	}
	for (uint32_t i = 0; i <= from->depth; i++) {
		const struct wait_frame *f = &from->frame[i];

		memcpy(&frame[i], f, offsetof(struct wait_frame, locals));
		if (f->level == i)
			wait_locals_assign(&frame[i].locals, &f->locals);
	}
	modal->on = from->modal->on;
	if (!modal->on)
		return;
	memcpy(modal, from->modal, offsetof(struct wait_modal, locals));
	wait_locals_assign(&modal->locals, &from->modal->locals);
}

bool wait_walk_copy(struct wait_walk *to, const struct wait_walk *from)
{
	if (!wait_walk_begin(to, from->f, from->all))
		return false;
	wait_walk_assign(to, from);
	return true;
}

enum wait_walk_kind wait_walk_answer(
    struct wait_walk *w, enum wait_walk_kind kind, uint32_t at, const char *why)
{
	w->at = at;
	w->why = why;
	if (w->mark) {
		w->mark->set = false;
		w->mark->since = w->mark->due = 0;
	}
	return w->kind = kind;
}

void wait_walk_lost(struct wait_walk *w, uint32_t at, const char *why)
{
	for (uint32_t i = 1; i <= w->depth; i++) {
		if (!w->frame[i].idle)
			continue;
		w->depth = i;
		w->frame[i].left = 1;
		wait_walk_back(w);
		return;
	}
	wait_walk_answer(w, WAIT_WALK_UNKNOWN, at, why);
}

/* True in a program in which nothing matters. */
static bool in_idle(const struct wait_walk *w)
{
	for (uint32_t i = 1; i <= w->depth; i++)
		if (w->frame[i].idle)
			return true;
	return false;
}

/*
 * The walk went back in its text. Places are kept at the first, second, fourth .. such step: a loop
 * that never changes comes to one of them again (Brent, An improved Monte Carlo factorization
 * algorithm, BIT 20, 1980).
 */
static void went_back(struct wait_walk *w, uint32_t at)
{
	struct wait_mark *m = w->mark;

	if (!m)
		return;
	if (m->set && wait_walk_same(w, &m->at)) {
		if (in_idle(w))
			wait_walk_lost(w, at, NULL);
		else
			wait_walk_answer(w, WAIT_WALK_ENDLESS, at, NULL);
		return;
	}
	if (m->since++ < m->due)
		return;
	m->due = m->since * 2;
	m->set = true;
	wait_walk_assign(&m->at, w);
}

static bool skips(struct wait_walk *w, uint32_t at)
{
	const struct wait_instr *i = &w->f->instr[at];

	if (!i->skip || !(w->on >> i->skip & 1))
		return false;
	w->move = WAIT_MOVE_SKIP;
	if (w->skips < WAIT_WALK_SKIPPED && !w->f->idle[at])
		w->skipped[w->skips++] = at;
	return true;
}

void wait_walk_to_label(struct wait_walk *w, uint32_t at, uint32_t from, uint32_t target)
{
	if (target == WAIT_NOWHERE)
		wait_walk_lost(w, at, "a jump to a sequence number that is not there");
	else if (target == WAIT_TWICE)
		wait_walk_lost(w, at, "a jump to a sequence number that stands there twice");
	else if (target == WAIT_SKIPPED)
		wait_walk_lost(w, at, "a jump to a block that is skipped");
	else if (wait_flow_into_loop(w->f, from, target))
		wait_walk_lost(w, at, "a jump into a loop");
	else
		wait_walk_jump(w, at, target, WAIT_MOVE_LABEL);
}

void wait_walk_jump(struct wait_walk *w, uint32_t at, uint32_t target, enum wait_walk_move move)
{
	w->move = move;
	w->next = target;
	if (target <= at || move == WAIT_MOVE_LABEL)
		went_back(w, at);
}

/* GOTO, and IF that is true: the label is known, or only the run knows it. */
static void go_to(struct wait_walk *w, uint32_t at)
{
	const struct wait_instr *i = &w->f->instr[at];

	if (i->target == WAIT_COMPUTED) {
		wait_walk_goto(w, at, i->a);
		return;
	}
	if (w->all)
		wait_walk_label(w, i->a);
	wait_walk_to_label(w, at, at, i->target);
}

static void decided(struct wait_walk *w, uint32_t at, bool yes)
{
	const struct wait_instr *i = &w->f->instr[at];

	w->next = at + 1;
	w->move = WAIT_MOVE_ON;
	if (i->op == WAIT_OP_IF) {
		if (yes)
			go_to(w, at);
	} else if (!yes) {
		wait_walk_jump(
		    w, at, i->target, i->op == WAIT_OP_WHILE ? WAIT_MOVE_PAST : WAIT_MOVE_THEN);
	}
}

/* A switch takes away one end of the loop and leaves the other: an alarm, on most controls. */
static bool torn(struct wait_walk *w, uint32_t at, uint32_t other, const char *why)
{
	const struct wait_instr *i = &w->f->instr[other];

	if (!i->skip || !(w->on >> i->skip & 1) || w->f->idle[at])
		return false;
	wait_walk_lost(w, at, why);
	return true;
}

static void condition(struct wait_walk *w, uint32_t at)
{
	const struct wait_instr *i = &w->f->instr[at];
	struct nc_value v;
	int truth;

	/* the END is the last instruction in front of the target */
	if (i->op == WAIT_OP_WHILE &&
	    torn(w, at, i->target - 1, "a loop whose END is skipped and whose DO is not"))
		return;
	if (i->b == WAIT_NOWHERE) {
		decided(w, at, true);
		return;
	}
	v = wait_walk_eval(w, i->b);
	truth = v.kind == NC_VALUE_ALARM ? -1 : nc_value_truth(&v);
	if (truth < 0 && (w->f->idle[at] || in_idle(w))) {
		w->assumed = true;
		truth = 0;
	}
	if (truth >= 0)
		decided(w, at, truth);
	else if (v.kind == NC_VALUE_ALARM)
		wait_walk_lost(w, at, v.why);
	else
		wait_walk_answer(w, WAIT_WALK_BRANCH, at, NULL);
}

void wait_walk_take(struct wait_walk *w, bool yes)
{
	uint32_t at = w->at;

	if (w->kind != WAIT_WALK_BRANCH)
		return;
	wait_walk_answer(w, WAIT_WALK_WENT, at, NULL);
	w->steps++;
	decided(w, at, yes);
}

/* M99. In the main program it begins that again; where nothing matters in it, it may as well end.
 */
static void back(struct wait_walk *w, uint32_t at)
{
	const struct wait_instr *i = &w->f->instr[at];

	if (w->depth && i->a != WAIT_NOWHERE) {
		wait_walk_back_to(w, at);
	} else if (w->depth) {
		wait_walk_back(w);
	} else if (i->a != WAIT_NOWHERE) {
		w->steps++;
		wait_walk_goto(w, at, i->a);
	} else if (!w->f->unit[0].relevant) {
		wait_walk_answer(w, WAIT_WALK_END, at, NULL);
	} else if (w->f->profile->end_m99) {
		wait_walk_answer(w, WAIT_WALK_ROUND, at, NULL);
	} else {
		wait_walk_answer(w, WAIT_WALK_UNKNOWN, at, "M99 in the main program");
	}
}

static void begin_again(struct wait_walk *w)
{
	w->round = true;
	w->steps++;
	w->unit = 0;
	w->next = w->f->unit[0].first;
	w->move = WAIT_MOVE_BEGIN;
	/* whether a control clears them there is not known */
	w->frame[0].locals.known = 0;
}

/* A code that names nobody but its own channel: one control goes on at once, the next one waits
 * for ever, and what was meant is another number. */
static void code(struct wait_walk *w, uint32_t at)
{
	const struct wait_code *c = &w->f->code[w->f->instr[at].a];

	if (w->self && c->partners == w->self && c->kind != WAIT_CODE_RECEIVE)
		wait_walk_lost(w, at, WAIT_NAMED_ALONE);
	else
		wait_walk_answer(w, WAIT_WALK_CODE, at, NULL);
}

static void execute(struct wait_walk *w, uint32_t at)
{
	const struct wait_instr *i = &w->f->instr[at];

	w->steps += i->op != WAIT_OP_RETURN;
	switch ((enum wait_op)i->op) {
	case WAIT_OP_CODE:
		code(w, at);
		break;
	case WAIT_OP_SET:
		wait_walk_set(w, at);
		break;
	case WAIT_OP_GOTO:
		go_to(w, at);
		break;
	case WAIT_OP_IF:
	case WAIT_OP_UNLESS:
	case WAIT_OP_WHILE:
		condition(w, at);
		break;
	case WAIT_OP_LOOP:
		if (!torn(w, at, i->target, "a loop whose DO is skipped and whose END is not"))
			wait_walk_jump(w, at, i->target, WAIT_MOVE_LOOP);
		break;
	case WAIT_OP_CALL:
		wait_walk_call(w, at);
		break;
	case WAIT_OP_CANCEL:
		w->modal->on = false;
		break;
	case WAIT_OP_MOVE:
		wait_walk_move(w, at);
		break;
	case WAIT_OP_RETURN:
		back(w, at);
		break;
	case WAIT_OP_END:
		wait_walk_answer(w, WAIT_WALK_END, at, NULL);
		break;
	case WAIT_OP_UNKNOWN:
		wait_walk_lost(w, at, w->f->why[i->a]);
		break;
	}
}

/* False where the answer stays; where it stood, it goes on. */
static bool goes_on(struct wait_walk *w)
{
	switch (w->kind) {
	case WAIT_WALK_WENT:
		return true;
	case WAIT_WALK_ROUND:
	case WAIT_WALK_CODE:
		w->skips = 0;
		if (w->kind == WAIT_WALK_ROUND)
			begin_again(w);
		wait_walk_answer(w, WAIT_WALK_WENT, w->at, NULL);
		return true;
	case WAIT_WALK_END:
	case WAIT_WALK_BRANCH:
	case WAIT_WALK_UNKNOWN:
	case WAIT_WALK_LONG:
	case WAIT_WALK_ENDLESS:
		break;
	}
	return false;
}

/* The instruction at hand does not matter; an end that does not is still where the program ends. */
static bool passes_over(const struct wait_walk *w)
{
	const struct wait_instr *i = &w->f->instr[w->next];
	bool ends = i->op == WAIT_OP_END || (i->op == WAIT_OP_RETURN && i->a == WAIT_NOWHERE);

	return w->f->idle[w->next] && (w->depth || !ends);
}

enum wait_walk_kind wait_walk_step(struct wait_walk *w)
{
	const struct wait_flow *f = w->f;
	uint32_t at;

	if (!goes_on(w))
		return w->kind;
	if (f->never)
		return wait_walk_answer(w, WAIT_WALK_UNKNOWN, WAIT_NOWHERE, f->never);
	if (w->steps > f->profile->run_max)
		return wait_walk_answer(
		    w, WAIT_WALK_LONG, w->next < f->unit[w->unit].end ? w->next : w->at, NULL);
	while (!w->all && w->next < f->unit[w->unit].end && passes_over(w))
		w->next++;
	if (w->next >= f->unit[w->unit].end) {
		if (!w->depth)
			return wait_walk_answer(w, WAIT_WALK_END, WAIT_NOWHERE, NULL);
		wait_walk_back(w);
		return w->kind;
	}
	at = w->next++;
	w->move = WAIT_MOVE_ON;
	if (!skips(w, at))
		execute(w, at);
	return w->kind;
}

enum wait_walk_kind wait_walk_next(struct wait_walk *w)
{
	enum wait_walk_kind kind;

	do
		kind = wait_walk_step(w);
	while (kind == WAIT_WALK_WENT);
	return kind;
}

const struct wait_code *wait_walk_code(const struct wait_walk *w)
{
	return w->kind == WAIT_WALK_CODE ? &w->f->code[w->f->instr[w->at].a] : NULL;
}
