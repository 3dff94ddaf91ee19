/* What there is to say about a flow, once it is known which instructions are reached. */
#include <stdlib.h>
#include <string.h>
#include "build.h"
#include "findings.h"

#define TELL(r, id, place_line, place_col, remedy, ...)                                            \
	findings_add((r)->list, (r)->f->profile->weight, FINDING_##id,                             \
	    &(struct finding_place){(r)->channel, (r)->file, place_line, place_col}, remedy,       \
	    __VA_ARGS__)

/* The line at which unit k is over. */
static uint64_t last_line(const struct wait_resolve *r, size_t k)
{
	const struct wait_flow *f = r->f;

	return k + 1 < f->units && !f->unit[k + 1].file ? f->unit[k + 1].line : r->last_line;
}

static void tell_end(struct wait_resolve *r, size_t k)
{
	const struct wait_flow *f = r->f;
	const struct wait_unit *u = &f->unit[k];
	bool main = k == 0 && !r->library, slash = false;
	uint64_t m99 = 0;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];
		bool back = e->op == WAIT_OP_RETURN;

		if (!r->reach[i] || (!back && e->op != WAIT_OP_END))
			continue;
		slash |= e->skip != 0;
		if (back && e->a == WAIT_NOWHERE && main && !f->profile->end_m99 && !m99)
			m99 = e->line;
	}
	if (m99)
		TELL(r, END_MISSING, m99, 0,
		    f->units > 1 ? "put the main program first in the file and end it with M30, or "
		                   "set end_m99"
		                 : "end the main program with M30, or set end_m99",
		    "M99 in the main program (the first of the file): the machine's profile does "
		    "not take it as an end");
	else if (r->falls[k] && main && r->begun)
		TELL(r, END_MISSING, last_line(r, k), 0, "end the program with M30",
		    slash ? "the program end stands only in a block with a slash"
		          : "the program has no end: no M02, no M30");
	else if (r->falls[k] && !main && (u->numbered || u->end > u->first))
		TELL(r, END_MISSING, last_line(r, k), 0, "end the subprogram with M99",
		    "subprogram O%u (line %llu) has no M99%s", u->number,
		    (unsigned long long)u->line, slash ? " without a slash" : "");
}

/* Wait codes that no run comes to. */
static void tell_after_end(struct wait_resolve *r, const struct wait_unit *u)
{
	const struct wait_flow *f = r->f;
	bool after = false;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];

		after |= (e->op == WAIT_OP_RETURN || e->op == WAIT_OP_END) && r->reach[i];
		if (e->op != WAIT_OP_CODE || r->reach[i])
			continue;
		TELL(r, WAIT_AFTER_END, e->line, e->col,
		    after ? "move it before the end, or remove it"
		          : "remove it, or the jump over it",
		    after ? "wait code M%u stands after the program end and is never reached"
		          : "wait code M%u stands behind a jump and is never reached",
		    f->code[e->a].code);
	}
}

static void tell_jump(struct wait_resolve *r, const struct wait_instr *e)
{
	struct nc_value v;
	uint64_t label = 0;

	if (e->target != WAIT_NOWHERE && e->target != WAIT_TWICE)
		return;
	v = nc_expr_eval(&r->f->pool, e->a, r->f->profile, NULL, NULL);
	nc_value_whole(&v, &label);
	TELL(r, JUMP_MISSING, e->line, e->col, "correct the number, here or at its block",
	    e->target == WAIT_NOWHERE ? "a jump to N%llu, which does not stand in this program"
	                              : "a jump to N%llu, which stands twice in this program",
	    (unsigned long long)label);
}

static void tell_call(struct wait_resolve *r, const struct wait_instr *e)
{
	const struct wait_call *c = &r->f->call[e->a];
	struct nc_value v;
	uint64_t number = 0;

	if (c->unit != WAIT_NOWHERE || c->resident)
		return;
	v = nc_expr_eval(&r->f->pool, c->program, r->f->profile, NULL, NULL);
	nc_value_whole(&v, &number);
	if (c->kind == WAIT_CALL_SUB)
		TELL(r, SUB_MISSING, e->line, e->col,
		    "put the subprogram into this file, behind the main program; or name it in "
		    "'resident' of the profile if it lives in the control and has no wait code",
		    "subprogram O%llu is called and is not in this file",
		    (unsigned long long)number);
	else
		TELL(r, FLOW_UNFOLLOWED, e->line, e->col, "compare the wait codes by hand",
		    "not followed: a macro call of a program that is neither in this file nor "
		    "named "
		    "in 'resident' of the profile");
}

static void tell_instr(struct wait_resolve *r, const struct wait_unit *u)
{
	const struct wait_flow *f = r->f;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];

		if (!r->reach[i])
			continue;
		if (e->op == WAIT_OP_GOTO || e->op == WAIT_OP_IF)
			tell_jump(r, e);
		else if (e->op == WAIT_OP_CALL)
			tell_call(r, e);
		else if (e->op == WAIT_OP_UNKNOWN && strcmp(f->why[e->a], WAIT_BAD_PARTNERS) == 0)
			TELL(r, PARTNERS_BAD, e->line, e->col,
			    "name each channel that meets there once, by number",
			    "the channels named with the wait code cannot be meant");
		else if (e->op == WAIT_OP_UNKNOWN)
			TELL(r, FLOW_UNFOLLOWED, e->line, e->col, "compare the wait codes by hand",
			    "not followed: %s", f->why[e->a]);
	}
}

/*
 * A program that is never called. One that ends with M30 is a second main program: which of the two
 * runs is chosen at the control. Wait codes in any other are met by nobody.
 */
static void tell_uncalled(struct wait_resolve *r, const struct wait_unit *u)
{
	struct wait_flow *f = r->f;
	const struct wait_instr *code = NULL;
	bool calls = false, ends = false;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];

		if (e->op == WAIT_OP_CODE && !code)
			code = e;
		calls |= e->op == WAIT_OP_CALL || e->op == WAIT_OP_UNKNOWN;
		ends |= e->op == WAIT_OP_END;
	}
	if (ends && (code || calls)) {
		f->mains = true;
		TELL(r, FLOW_UNFOLLOWED, u->line, 0, "put each main program into a file of its own",
		    "O%u is a second main program: which of the two runs is chosen at the control",
		    u->number);
	} else if (code) {
		TELL(r, TEXT_AFTER_END, code->line, code->col, "call it with M98, or remove it",
		    "wait code M%u stands in O%u (line %llu), which is never called",
		    f->code[code->a].code, u->number, (unsigned long long)u->line);
	}
}

/* A program that is reached and not followed may call any other. */
static bool follows_all(const struct wait_resolve *r)
{
	for (size_t i = 0; i < r->f->instrs; i++)
		if (r->reach[i] && r->f->instr[i].op == WAIT_OP_UNKNOWN)
			return false;
	return true;
}

struct step {
	uint32_t unit, next;
};

/* True when nothing in the unit decides whether an instruction is executed. */
static bool straight(const struct wait_flow *f, const struct wait_unit *u)
{
	for (uint32_t i = u->first; i < u->end; i++) {
		uint8_t op = f->instr[i].op;

		if (op == WAIT_OP_IF || op == WAIT_OP_UNLESS || op == WAIT_OP_WHILE ||
		    op == WAIT_OP_GOTO || op == WAIT_OP_UNKNOWN)
			return false;
	}
	return true;
}

/* The call of the step at hand, or one that is done: heights come up from below. */
static bool descend(struct wait_resolve *r, uint8_t *mark, struct step *s, uint32_t *into)
{
	struct wait_flow *f = r->f;
	struct wait_unit *u = &f->unit[s->unit];

	for (; s->next < u->end; s->next++) {
		const struct wait_instr *e = &f->instr[s->next];
		uint32_t to =
		    e->op == WAIT_OP_CALL && r->reach[s->next] ? f->call[e->a].unit : WAIT_NOWHERE;

		if (to >= f->units)
			continue;
		if (mark[to] == 0) {
			*into = to;
			return true;
		}
		if (mark[to] == 1 && !e->skip && straight(f, u) && !u->file)
			TELL(r, SUB_RECURSIVE, e->line, e->col, "remove the call",
			    "O%u calls itself without end", f->unit[to].number);
		else if (mark[to] == 2 && f->unit[to].height + 1 > u->height)
			u->height = f->unit[to].height + 1;
	}
	return false;
}

/* Recursion, and how deep calls nest; a stack of our own, because a file may nest as deep as it
 * likes. */
static bool tell_calls(struct wait_resolve *r)
{
	struct wait_flow *f = r->f;
	uint8_t *mark = calloc(f->units, 1);
	struct step *stack = calloc(f->units, sizeof *stack);
	size_t n = 0;
	uint32_t into;
	bool ok = mark && stack;

	if (ok) {
		stack[n++] = (struct step){0, f->unit[0].first};
		mark[0] = 1;
	}
	while (n) {
		if (descend(r, mark, &stack[n - 1], &into)) {
			mark[into] = 1;
			stack[n++] = (struct step){into, f->unit[into].first};
			continue;
		}
		mark[stack[--n].unit] = 2;
	}
	free(stack);
	free(mark);
	return ok;
}

/* The call that is one too many. */
static void tell_depth(struct wait_resolve *r)
{
	const struct wait_flow *f = r->f;
	uint32_t unit = 0, level = 0;

	if (f->unit[0].height <= f->profile->call_depth)
		return;
	for (uint32_t i = f->unit[0].first; i < f->unit[unit].end; i++) {
		const struct wait_instr *e = &f->instr[i];
		uint32_t to =
		    e->op == WAIT_OP_CALL && r->reach[i] ? f->call[e->a].unit : WAIT_NOWHERE;

		if (to >= f->units || f->unit[to].height + 1 != f->unit[unit].height)
			continue;
		if (level++ == f->profile->call_depth) {
			TELL(r, CALL_DEEP, e->line, e->col, "nest fewer calls",
			    "calls nest %u deep; the machine takes %u", f->unit[0].height,
			    f->profile->call_depth);
			return;
		}
		unit = to;
		i = f->unit[to].first - 1;
	}
}

bool wait_tell(struct wait_resolve *r)
{
	const struct wait_flow *f = r->f;
	bool all = follows_all(r);

	for (size_t k = 0; k < f->units; k++) {
		const struct wait_unit *u = &f->unit[k];

		if (u->file)
			continue;
		if (!u->reached && all)
			tell_uncalled(r, u);
		if (!u->reached)
			continue;
		tell_end(r, k);
		tell_after_end(r, u);
		tell_instr(r, u);
	}
	if (!tell_calls(r))
		return false;
	tell_depth(r);
	return true;
}
