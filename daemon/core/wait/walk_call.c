/* Calls, returns, and labels that only the run knows. */
#include <string.h>
#include "walk_inside.h"

/* Entries of a table that are looked through for one step: so run_max bounds looking, too. */
enum { LOOKS_A_STEP = 64 };

/* Program number and repeats of a call, as far as the run at hand knows them. */
struct callee {
	uint32_t unit;
	uint64_t times;
	bool pass; /* lives in the control */
};

static const char *program_of(struct wait_walk *w, const struct wait_call *c, struct callee *to)
{
	uint32_t front = c->times;
	struct nc_value v;
	uint64_t number;

	to->unit = c->unit;
	to->pass = c->resident;
	if (c->unit == WAIT_COMPUTED) {
		v = wait_walk_eval(w, c->program);
		if (v.kind == NC_VALUE_ALARM)
			return v.why;
		if (!nc_value_whole(&v, &number))
			return "a call of a program whose number is not known";
		w->steps += w->f->units / LOOKS_A_STEP;
		to->unit = wait_flow_unit(w->f, number, &front);
		to->pass = to->unit == WAIT_NOWHERE && profile_is_resident(w->f->profile, number);
	}
	if (to->unit == WAIT_NOWHERE && !to->pass)
		return "a call of a program that is not there";
	if (to->unit == WAIT_TWICE)
		return "a call of a program that stands in the file twice";
	if (front && c->repeat != WAIT_NOWHERE)
		return "a call with repeats both in P and in L";
	to->times = front ? front : 1;
	return NULL;
}

static const char *repeats_of(const struct wait_walk *w, const struct wait_call *c, uint64_t *times)
{
	struct nc_value v;

	if (c->repeat == WAIT_NOWHERE)
		return NULL;
	v = wait_walk_eval(w, c->repeat);
	if (v.kind == NC_VALUE_ALARM)
		return v.why;
	if (!nc_value_whole(&v, times))
		return "a call with repeats that are not known";
	return *times ? NULL : "a call with no repeats at all";
}

static void arguments(const struct wait_walk *w, const struct wait_call *c, struct wait_locals *to)
{
	to->known = 0;
	for (uint32_t i = 0; i < c->args; i++) {
		const struct wait_arg *a = &w->f->arg[c->arg + i];
		struct nc_value v = wait_walk_eval(w, a->expr);

		if (a->local < 1 || a->local > WAIT_LOCALS)
			continue;
		to->known &= ~((uint64_t)1 << a->local);
		if (v.kind == NC_VALUE_UNKNOWN || v.kind == NC_VALUE_ALARM)
			continue;
		to->known |= (uint64_t)1 << a->local;
		to->v[a->local] = v;
	}
}

/* False when calls nest too deep. */
static bool enter(struct wait_walk *w, uint32_t at, const struct callee *to)
{
	struct wait_frame *top;
	uint32_t level = w->frame[w->depth].level;

	if (w->depth >= w->f->profile->call_depth)
		return false;
	top = &w->frame[++w->depth];
	top->unit = w->unit;
	top->next = w->next;
	top->left = to->times;
	top->call = w->f->instr[at].a;
	top->level = level;
	top->modal = false;
	top->idle = w->f->idle[at];
	w->unit = to->unit;
	w->next = w->f->unit[to->unit].first;
	w->move = WAIT_MOVE_CALL;
	return true;
}

static bool in_modal(const struct wait_walk *w)
{
	for (uint32_t i = 1; i <= w->depth; i++)
		if (w->frame[i].modal)
			return true;
	return false;
}

static void arm(
    struct wait_walk *w, const struct wait_call *c, const struct callee *to, uint32_t call)
{
	w->modal->call = call;
	w->modal->unit = to->unit;
	w->modal->times = to->times;
	arguments(w, c, &w->modal->locals);
	w->modal->on = !to->pass;
}

void wait_walk_call(struct wait_walk *w, uint32_t at)
{
	const struct wait_call *c = &w->f->call[w->f->instr[at].a];
	struct callee to;
	const char *why = c->why && !w->f->idle[at] ? c->why : program_of(w, c, &to);

	if (!why && to.pass && c->kind != WAIT_CALL_MODAL)
		return;
	if (!why)
		why = repeats_of(w, c, &to.times);
	if (!why && c->kind == WAIT_CALL_MODAL && in_modal(w))
		why = "a modal call in a program that is called by one";
	if (!why && c->kind == WAIT_CALL_MODAL) {
		arm(w, c, &to, w->f->instr[at].a);
		return;
	}
	if (!why && !enter(w, at, &to))
		why = "calls nest deeper than the machine takes";
	if (why && w->f->idle[at])
		return;
	if (why) {
		wait_walk_lost(w, at, why);
		return;
	}
	if (c->kind == WAIT_CALL_MACRO) {
		struct wait_frame *top = &w->frame[w->depth];

		/* its arguments are read from the caller's */
		arguments(w, c, &top->locals);
		top->level = w->depth;
	}
}

void wait_walk_move(struct wait_walk *w, uint32_t at)
{
	const struct wait_modal *m = w->modal;
	struct callee to = {.unit = m->unit, .times = m->times};
	struct wait_frame *top;

	if (!m->on || in_modal(w))
		return;
	if (w->f->instr[at].target == WAIT_COMPUTED && !w->f->idle[at]) {
		wait_walk_lost(w, at, "a block that may move, under a modal call");
		return;
	}
	if (!enter(w, at, &to)) {
		wait_walk_lost(w, at, "calls nest deeper than the machine takes");
		return;
	}
	top = &w->frame[w->depth];
	top->call = m->call;
	top->level = w->depth;
	top->modal = true;
	top->idle = !w->f->unit[m->unit].relevant;
	wait_locals_assign(&top->locals, &m->locals);
}

/*
 * Whether a repeated macro gets its arguments anew, or goes on with what the run before left, is
 * not known: what is the same either way is known.
 */
static void once_more(struct wait_walk *w, struct wait_frame *top)
{
	struct wait_locals anew;
	uint32_t depth = w->depth;

	w->steps++;
	w->next = w->f->unit[w->unit].first;
	w->move = WAIT_MOVE_CALL;
	if (top->level != depth)
		return;
	if (top->modal) {
		wait_locals_common(&top->locals, &w->modal->locals);
		return;
	}
	w->depth--;
	arguments(w, &w->f->call[top->call], &anew);
	w->depth = depth;
	wait_locals_common(&top->locals, &anew);
}

void wait_walk_back(struct wait_walk *w)
{
	struct wait_frame *top = &w->frame[w->depth];

	if (top->left > 1) {
		top->left--;
		once_more(w, top);
		return;
	}
	w->unit = top->unit;
	w->next = top->next;
	w->depth--;
	w->move = WAIT_MOVE_BACK;
}

bool wait_walk_label(struct wait_walk *w, uint32_t expr)
{
	struct nc_value v = wait_walk_eval(w, expr);
	uint64_t label;

	if (!nc_value_whole(&v, &label) || label > UINT32_MAX)
		return false;
	w->label = (uint32_t)label;
	return true;
}

/* The instruction of w->label in this unit. */
static uint32_t look_up(struct wait_walk *w, uint32_t unit)
{
	uint32_t slot = (w->label * 2654435761u ^ unit) % WAIT_MEMO;
	struct wait_mark *m = w->mark;
	uint8_t skip;
	uint32_t at;

	if (m && m->memo[slot].at && m->memo[slot].unit == unit && m->memo[slot].label == w->label)
		return m->memo[slot].at - 1;
	w->steps += w->f->unit[unit].labels / LOOKS_A_STEP;
	at = wait_flow_label(w->f, unit, w->label, &skip);
	if (at < WAIT_TWICE && skip && w->on >> skip & 1)
		return WAIT_SKIPPED;
	if (m && at < WAIT_TWICE && !skip) {
		m->memo[slot].unit = unit;
		m->memo[slot].label = w->label;
		m->memo[slot].at = at + 1;
	}
	return at;
}

/* To w->label in the unit at hand. */
static void to_label(struct wait_walk *w, uint32_t at, uint32_t from)
{
	wait_walk_to_label(w, at, from, look_up(w, w->unit));
}

void wait_walk_goto(struct wait_walk *w, uint32_t at, uint32_t expr)
{
	if (wait_walk_label(w, expr))
		to_label(w, at, at);
	else
		wait_walk_lost(w, at, "a jump to a sequence number that is not known");
}

void wait_walk_back_to(struct wait_walk *w, uint32_t at)
{
	struct wait_frame *top = &w->frame[w->depth];

	if (top->left > 1) {
		wait_walk_lost(w, at, "a return to a sequence number out of a repeated program");
		return;
	}
	if (!wait_walk_label(w, w->f->instr[at].a)) {
		wait_walk_lost(w, at, "a return to a sequence number that is not known");
		return;
	}
	w->unit = top->unit;
	w->depth--;
	w->steps++;
	to_label(w, at, top->next - 1);
}
