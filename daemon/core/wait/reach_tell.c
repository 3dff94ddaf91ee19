/* What there is to say about a flow, once it is known which instructions are reached. */
#include <stdlib.h>
#include <string.h>
#include "build.h"
#include "findings.h"

#define TELL(r, id, place_line, place_col, remedy, ...)                                            \
	findings_add((r)->list, (r)->f->profile->weight, FINDING_##id,                             \
	    &(struct finding_place){(r)->channel, (r)->file, place_line, place_col}, remedy,       \
	    __VA_ARGS__)

/* Entries that are looked through for returns to labels that are not there. */
enum { LOOKS_MAX = 1 << 24 };

#define BY_HAND "compare the wait codes by hand"

/* A program as people call it: O10, O<NAME>. NULL without memory; the caller frees. */
static char *called(const char *name, uint64_t number)
{
	struct text t = {0};

	if (name) {
		text_puts(&t, "O<");
		text_visible(&t, name, strlen(name));
		text_puts(&t, ">");
	} else {
		text_printf(&t, "O%llu", (unsigned long long)number);
	}
	return text_take(&t);
}

static uint64_t whole_of(const struct wait_resolve *r, uint32_t expr)
{
	struct nc_value v = nc_expr_eval(&r->f->pool, expr, r->f->profile, NULL, NULL);
	uint64_t whole;

	return nc_value_whole(&v, &whole) ? whole : 0;
}

/* The line at which unit k is over. */
static uint64_t last_line(const struct wait_resolve *r, size_t k)
{
	const struct wait_flow *f = r->f;

	return k + 1 < f->units && !f->unit[k + 1].file ? f->unit[k + 1].line : r->last_line;
}

struct ends {
	bool slash;   /* one stands in a block with a slash */
	bool any;     /* one stands somewhere, or what may be one */
	uint64_t m99; /* line of an M99 in the main program that is none for this machine */
};

static struct ends look_for_ends(const struct wait_resolve *r, size_t k)
{
	const struct wait_flow *f = r->f;
	struct ends ends = {0};

	for (uint32_t i = f->unit[k].first; i < f->unit[k].end; i++) {
		const struct wait_instr *e = &f->instr[i];
		bool back = e->op == WAIT_OP_RETURN;

		ends.any |= e->op == WAIT_OP_UNKNOWN && strncmp(f->why[e->a], "M99", 3) == 0;
		if (!back && e->op != WAIT_OP_END)
			continue;
		ends.any |= !e->skip;
		ends.slash |= e->skip != 0;
		if (back && e->a == WAIT_NOWHERE && k == 0 && !r->library && r->reach[i] &&
		    !f->profile->end_m99 && !ends.m99)
			ends.m99 = e->line;
	}
	return ends;
}

static void tell_end(struct wait_resolve *r, size_t k)
{
	const struct wait_flow *f = r->f;
	const struct wait_unit *u = &f->unit[k];
	struct ends ends = look_for_ends(r, k);
	bool main = k == 0 && !r->library;
	bool falls = r->falls[k] == WAIT_REACH_YES || (r->falls[k] && !ends.any);
	char *name;

	if (ends.m99) {
		TELL(r, END_MISSING, ends.m99, 0,
		    f->units > 1 ? "put the main program first in the file and end it with M30, or "
		                   "set end_m99"
		                 : "end the main program with M30, or set end_m99",
		    "M99 in the main program (the first of the file): the machine's profile does "
		    "not take it as an end");
		return;
	}
	if (!falls || r->full || (main && !r->begun))
		return;
	if (main) {
		TELL(r, END_MISSING, last_line(r, k), 0, "end the program with M30",
		    ends.slash ? "the program end stands only in a block with a slash"
		    : ends.any ? "a run of the program comes to no end: no M02, no M30"
		               : "the program has no end: no M02, no M30");
		return;
	}
	if (!u->numbered && !u->name && u->end == u->first)
		return;
	name = called(u->name, u->number);
	r->list->failed |= !name;
	TELL(r, END_MISSING, last_line(r, k), 0, "end the subprogram with M99",
	    "subprogram %s (line %llu) has no M99%s", name ? name : "", (unsigned long long)u->line,
	    ends.slash ? " without a slash"
	    : ends.any ? " at the end of every run"
	               : "");
	free(name);
}

static bool is_followed(const struct wait_resolve *r, const struct wait_unit *u)
{
	for (uint32_t i = u->first; i < u->end; i++)
		if (r->reach[i] && r->f->instr[i].op == WAIT_OP_UNKNOWN)
			return false;
	return true;
}

/* Wait codes that no run comes to. Where something is not followed, one may. */
static void tell_after_end(struct wait_resolve *r, const struct wait_unit *u)
{
	const struct wait_flow *f = r->f;
	bool after = false;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];
		const struct wait_code *c;

		after |= r->reach[i] && (e->op == WAIT_OP_RETURN || e->op == WAIT_OP_END);
		if (e->op != WAIT_OP_CODE || r->reach[i])
			continue;
		c = &f->code[e->a];
		TELL(r, WAIT_AFTER_END, e->line, e->col,
		    after ? "move it before the end, or remove it"
		          : "remove it, or what leads past it",
		    "wait code %s%u stands %s and is never reached",
		    c->call ? f->profile->wait_call : "M", c->code,
		    after ? "after the program end" : "where a jump or a return leads past it");
	}
}

/* Labels that a jump names and that cannot be gone to. */
static void tell_jump(struct wait_resolve *r, const struct wait_unit *u, const struct wait_instr *e)
{
	uint64_t label;

	if (e->target != WAIT_NOWHERE && e->target != WAIT_TWICE)
		return;
	if (u->cut) {
		TELL(r, FLOW_UNFOLLOWED, e->line, e->col, BY_HAND, "not followed: %s", WAIT_FULL);
		return;
	}
	label = whole_of(r, e->a);
	TELL(r, JUMP_MISSING, e->line, e->col, "correct the number, here or at its block",
	    e->target == WAIT_NOWHERE ? "a jump to N%llu, which does not stand in this program"
	                              : "a jump to N%llu, which stands twice in this program",
	    (unsigned long long)label);
}

static void tell_missing(struct wait_resolve *r, const struct wait_unit *u,
    const struct wait_instr *e, const struct wait_call *c)
{
	char *name = called(c->name, c->name ? 0 : whole_of(r, c->program));
	const char *text = name ? name : "";

	r->list->failed |= !name;
	if (c->kind != WAIT_CALL_SUB && !u->file)
		TELL(r, FLOW_UNFOLLOWED, e->line, e->col, BY_HAND,
		    "not followed: a macro call of %s, which is neither in this file nor named in "
		    "'resident' of the profile",
		    text);
	else if (u->file)
		TELL(r, SUB_MISSING, 0, 0,
		    "put the subprogram into one of the files; or name it in 'resident' of the "
		    "profile if it lives in the control and has no wait code",
		    "subprogram %s is called in a file of subprograms (line %u) and is in none of "
		    "the files",
		    text, e->line);
	else
		TELL(r, SUB_MISSING, e->line, e->col,
		    "put the subprogram into this file, behind the main program; or name it in "
		    "'resident' of the profile if it lives in the control and has no wait code",
		    "subprogram %s is called and is not in this file", text);
	free(name);
}

/* M99 P leads to a label of the program that calls. */
static void tell_returns(struct wait_resolve *r, const struct wait_unit *caller, uint32_t callee)
{
	struct wait_flow *f = r->f;
	const struct wait_unit *u = &f->unit[callee];
	char *name;

	for (uint32_t i = u->first; u->leaps && !u->file && i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];
		uint64_t label;

		r->looks++;
		if (r->looks > LOOKS_MAX || !r->reach[i] || e->op != WAIT_OP_RETURN ||
		    e->a == WAIT_NOWHERE || !nc_expr_is_constant(&f->pool, e->a))
			continue;
		r->looks += caller->labels;
		label = whole_of(r, e->a);
		if (wait_flow_label(f, (uint32_t)(caller - f->unit), label, NULL) != WAIT_NOWHERE)
			continue;
		name = called(caller->name, caller->number);
		r->list->failed |= !name;
		TELL(r, JUMP_MISSING, e->line, e->col, "correct the number, here or at its block",
		    "a return to N%llu, which does not stand in %s, from which it is called",
		    (unsigned long long)label, name ? name : "");
		free(name);
	}
}

static void tell_call(struct wait_resolve *r, const struct wait_unit *u, uint32_t i)
{
	const struct wait_instr *e = &r->f->instr[i];
	const struct wait_call *c = &r->f->call[e->a];

	/* what a file of subprograms calls may be in the file that calls it */
	if (c->unit == WAIT_NOWHERE && !c->resident && !r->library)
		tell_missing(r, u, e, c);
	if (c->unit < r->f->units)
		tell_returns(r, u, c->unit);
	if (c->unit == WAIT_NOWHERE || u->file || !c->why)
		return;
	if (strcmp(c->why, WAIT_RECURSIVE) == 0) {
		char *name = called(r->f->unit[c->unit].name, r->f->unit[c->unit].number);

		r->list->failed |= !name;
		TELL(r, SUB_RECURSIVE, e->line, e->col, "remove the call",
		    "%s calls itself without end", name ? name : "");
		free(name);
	} else if (!r->f->idle[i]) {
		TELL(r, FLOW_UNFOLLOWED, e->line, e->col, BY_HAND, "not followed: %s", c->why);
	}
}

static void tell_unknown(struct wait_resolve *r, const struct wait_instr *e)
{
	const char *why = r->f->why[e->a];

	if (strcmp(why, WAIT_BAD_PARTNERS) == 0)
		TELL(r, PARTNERS_BAD, e->line, e->col,
		    "name each channel that meets there once, by number",
		    "the channels named with the wait code cannot be meant");
	else if (strcmp(why, WAIT_NO_CONTOUR) == 0)
		TELL(r, JUMP_MISSING, e->line, e->col, "correct P and Q, here or at their blocks",
		    "a cycle over a contour (P, Q) whose first or last block does not stand in "
		    "this program");
	else
		TELL(r, FLOW_UNFOLLOWED, e->line, e->col, BY_HAND, "not followed: %s", why);
}

/* A code that names no channel but its own. */
static void tell_alone(struct wait_resolve *r, const struct wait_instr *e)
{
	const struct wait_code *c = &r->f->code[e->a];

	if (r->channel >= 0 && c->partners == 1u << r->channel && c->kind == WAIT_CODE_MEET)
		TELL(r, PARTNERS_BAD, e->line, e->col,
		    "name each channel that meets there once, by number", WAIT_NAMED_ALONE);
}

static void tell_instr(struct wait_resolve *r, const struct wait_unit *u)
{
	const struct wait_flow *f = r->f;
	uint32_t told = 0;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];

		if (!r->reach[i])
			continue;
		if (e->op == WAIT_OP_CALL)
			tell_call(r, u, i);
		if (u->file)
			continue;
		if (e->op == WAIT_OP_GOTO || e->op == WAIT_OP_IF ||
		    (e->op == WAIT_OP_RETURN && e->a != WAIT_NOWHERE && u == f->unit))
			tell_jump(r, u, e);
		else if (e->op == WAIT_OP_CODE)
			tell_alone(r, e);
		else if (e->op == WAIT_OP_UNKNOWN && e->line != told)
			tell_unknown(r, e);
		/* a block is told once */
		if (e->op == WAIT_OP_UNKNOWN)
			told = e->line;
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
	char *name;

	for (uint32_t i = u->first; i < u->end; i++) {
		const struct wait_instr *e = &f->instr[i];

		if (e->op == WAIT_OP_CODE && !code)
			code = e;
		calls |=
		    (e->op == WAIT_OP_CALL && !f->call[e->a].resident) || e->op == WAIT_OP_UNKNOWN;
		ends |= e->op == WAIT_OP_END;
	}
	if (!code && !(ends && calls))
		return;
	name = called(u->name, u->number);
	r->list->failed |= !name;
	if (ends) {
		f->never = WAIT_MAINS;
		TELL(r, FLOW_UNFOLLOWED, u->line, 0, "put each main program into a file of its own",
		    "%s is a second main program: which of the two runs is chosen at the control",
		    name ? name : "");
	} else {
		TELL(r, TEXT_AFTER_END, code->line, code->col, "call it with M98, or remove it",
		    "wait code %s%u stands in %s (line %llu), which is never called",
		    f->code[code->a].call ? f->profile->wait_call : "M", f->code[code->a].code,
		    name ? name : "", (unsigned long long)u->line);
	}
	free(name);
}

/* A program that is reached and not followed may call any other. */
static bool follows_all(const struct wait_resolve *r)
{
	for (size_t k = 0; k < r->f->units; k++)
		if (r->f->unit[k].reached && !is_followed(r, &r->f->unit[k]))
			return false;
	return !r->full;
}

/* The call that is one too many. */
static void tell_depth(struct wait_resolve *r)
{
	const struct wait_flow *f = r->f;
	uint32_t unit = 0, level = 0;

	if (f->unit[0].height <= f->profile->call_depth || r->library)
		return;
	for (uint32_t i = f->unit[0].first; i < f->unit[unit].end; i++) {
		const struct wait_instr *e = &f->instr[i];
		uint32_t to =
		    e->op == WAIT_OP_CALL && r->reach[i] ? f->call[e->a].unit : WAIT_NOWHERE;

		if (to >= f->units || f->unit[to].height + 1 != f->unit[unit].height)
			continue;
		if (level++ == f->profile->call_depth) {
			TELL(r, CALL_DEEP, f->unit[unit].file ? 0 : e->line,
			    f->unit[unit].file ? 0 : e->col, "nest fewer calls",
			    "calls nest %u deep; the machine takes %u", f->unit[0].height,
			    f->profile->call_depth);
			return;
		}
		unit = to;
		i = f->unit[to].first - 1;
	}
}

bool wait_reach_tell(struct wait_resolve *r)
{
	const struct wait_flow *f = r->f;
	bool all = follows_all(r);

	if (r->full && f->units == WAIT_UNITS_MAX)
		TELL(r, FLOW_UNFOLLOWED, r->last_line, 0, BY_HAND, "not followed: %s", WAIT_FULL);
	for (size_t k = 0; k < f->units; k++) {
		const struct wait_unit *u = &f->unit[k];

		if (!u->reached && all && !u->file)
			tell_uncalled(r, u);
		if (!u->reached)
			continue;
		if (!u->file)
			tell_end(r, k);
		if (!u->file && is_followed(r, u))
			tell_after_end(r, u);
		tell_instr(r, u);
	}
	tell_depth(r);
	return !r->list->failed;
}
