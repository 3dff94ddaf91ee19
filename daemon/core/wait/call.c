/*
 * After the last block: which program each call means, what of all that can change the wait codes
 * met, and what there is to say about it. Programs are judged after those that they call; the path
 * down to the one at hand is kept on a stack of our own, because a file may nest as deep as it
 * likes.
 */
#include "flow.h"

#include <stdlib.h>
#include "findings.h"

struct entry {
	uint32_t number, unit;
};

struct step {
	uint32_t unit;
	size_t next; /* event */
};

struct resolve {
	struct wait_flow *f;
	struct findings *list;
	const char *file;
	int channel;
	struct entry *index; /* by number, then by place */
	size_t entries;
	struct step *stack;
	size_t depth;
};

#define TELL(r, id, place_line, place_col, remedy, ...)                                            \
	findings_add((r)->list, (r)->f->profile->weight, FINDING_##id,                             \
	    &(struct finding_place){(r)->channel, (r)->file, place_line, place_col}, remedy,       \
	    __VA_ARGS__)

static int by_number(const void *va, const void *vb)
{
	const struct entry *a = va, *b = vb;

	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return (a->unit > b->unit) - (a->unit < b->unit);
}

/* The first program with this number, or -1. */
static int64_t lookup(const struct resolve *r, uint32_t number)
{
	size_t low = 0, high = r->entries;

	while (low < high) {
		size_t middle = low + (high - low) / 2;
		if (r->index[middle].number < number)
			low = middle + 1;
		else
			high = middle;
	}
	if (low == r->entries || r->index[low].number != number)
		return -1;
	return r->index[low].unit;
}

static void become_unknown(struct wait_event *e, const char *why, bool told)
{
	e->kind = WAIT_EVENT_UNKNOWN;
	e->why = why;
	e->told = told;
}

/* A call of a program that is on the way to itself. */
static void recursive(struct resolve *r, struct wait_event *e, const struct wait_unit *u)
{
	bool always = !e->skip && !u->has_jump;

	if (always)
		TELL(r, SUB_RECURSIVE, e->at.line, e->at.col, "remove the call",
		    "O%u calls itself without end", e->target);
	become_unknown(e, "a subprogram that calls itself", always);
}

/*
 * P with more digits than a program number has holds the repeats in front: P31000 calls O1000 three
 * times, P00031000 too (common practice where numbers have four digits).
 */
static int64_t lookup_repeated(const struct resolve *r, struct wait_event *e)
{
	uint32_t repeat = e->target / 10000, target = e->target % 10000;
	int64_t to;

	if (!repeat || e->repeat > 1 || r->f->profile->number_max > 9999)
		return -1;
	to = lookup(r, target);
	if (to >= 0 && e->kind == WAIT_EVENT_CALL) {
		e->target = target;
		e->repeat = repeat;
	}
	return e->kind == WAIT_EVENT_CALL ? to : -1;
}

/* Find the program that call e in unit u means. Its unit when it was not looked at yet, otherwise
 * -1. */
static int64_t enter(struct resolve *r, struct wait_unit *u, struct wait_event *e)
{
	int64_t to = lookup(r, e->target);

	if (to < 0)
		to = lookup_repeated(r, e);
	if (to < 0 && profile_is_resident(r->f->profile, e->target)) {
		e->kind = WAIT_EVENT_NONE;
	} else if (to < 0 && e->kind == WAIT_EVENT_CALL) {
		TELL(r, SUB_MISSING, e->at.line, e->at.col,
		    "put the subprogram into this file, behind the main program; or name it in "
		    "'resident' of the profile if it lives in the control and has no wait code",
		    "subprogram O%u is called and is not in this file", e->target);
		become_unknown(e, "a subprogram that is not in this file", true);
	} else if (to < 0) {
		become_unknown(e,
		    "a macro call of a program that is neither in this file nor named in "
		    "'resident' of the profile",
		    false);
	} else if (r->f->unit[to].mark == 1) {
		recursive(r, e, u);
	} else if (r->f->unit[to].mark == 0) {
		return to;
	} else {
		e->target = (uint32_t)to;
	}
	return -1;
}

/* Calls of programs that do not matter do not matter; macro calls of those that do are not
 * followed. */
static void settle_calls(struct wait_flow *f, struct wait_unit *u)
{
	for (size_t i = u->first; i < u->end; i++) {
		struct wait_event *e = &f->event[i];
		const struct wait_unit *to;
		if (e->kind != WAIT_EVENT_CALL && e->kind != WAIT_EVENT_MACRO)
			continue;
		to = &f->unit[e->target];
		if (to->height + 1 > u->height) {
			u->height = to->height + 1;
			u->deepest = i;
		}
		if (!to->relevant)
			e->kind = WAIT_EVENT_NONE;
		else if (e->kind == WAIT_EVENT_MACRO)
			become_unknown(e, e->why, false);
	}
}

/*
 * In a program without wait codes, calls that matter and doubts, a jump leads to nothing that
 * matters; in a subprogram it must also have no end of the whole program to jump over.
 */
static void settle_unit(struct wait_flow *f, struct wait_unit *u)
{
	bool main = u == f->unit, jump = false;

	settle_calls(f, u);
	wait_jump_settle(f, u->first, u->end);
	for (size_t i = u->first; i < u->end; i++) {
		uint8_t kind = f->event[i].kind;
		u->relevant |= kind == WAIT_EVENT_CODE || kind == WAIT_EVENT_CALL ||
		               kind == WAIT_EVENT_UNKNOWN || (kind == WAIT_EVENT_END && !main);
		jump |= kind == WAIT_EVENT_JUMP;
	}
	for (size_t i = u->first; i < u->end; i++) {
		struct wait_event *e = &f->event[i];
		if (e->kind == WAIT_EVENT_JUMP && u->relevant)
			become_unknown(e, e->why, false);
		else if (e->kind == WAIT_EVENT_JUMP)
			e->kind = WAIT_EVENT_NONE;
	}
	u->has_jump = jump && u->relevant;
}

/* Settle every program that the main program reaches, callees first. */
static void descend(struct resolve *r)
{
	struct wait_flow *f = r->f;

	f->unit[0].mark = 1;
	r->stack[r->depth++] = (struct step){0, f->unit[0].first};
	while (r->depth) {
		struct step *s = &r->stack[r->depth - 1];
		struct wait_unit *u = &f->unit[s->unit];
		int64_t to = -1;
		while (to < 0 && s->next < u->end) {
			struct wait_event *e = &f->event[s->next];
			if (e->kind == WAIT_EVENT_CALL || e->kind == WAIT_EVENT_MACRO)
				to = enter(r, u, e);
			/* a call that is entered is looked at again, and found done */
			s->next += to < 0;
		}
		if (to >= 0) {
			f->unit[to].mark = 1;
			r->stack[r->depth++] = (struct step){(uint32_t)to, f->unit[to].first};
			continue;
		}
		settle_unit(f, u);
		u->mark = 2;
		r->depth--;
	}
}

/* The line at which program u is over. */
static uint64_t last_line(const struct wait_flow *f, const struct wait_unit *u)
{
	size_t next = (size_t)(u - f->unit) + 1;

	return next < f->units ? f->unit[next].line : f->last_line;
}

/* Ends: missing, or only where a slash skips them; and wait codes after them. */
static void tell_end(struct resolve *r, const struct wait_unit *u)
{
	const struct wait_flow *f = r->f;
	bool main = u == f->unit, after = false, slash = false, doubt = false;
	uint64_t m99 = 0;

	for (size_t i = u->first; i < u->end; i++)
		doubt |= f->event[i].kind == WAIT_EVENT_UNKNOWN && !f->event[i].told;
	for (size_t i = u->first; i < u->end; i++) {
		const struct wait_event *e = &f->event[i];
		bool back = e->kind == WAIT_EVENT_RETURN || e->ends;
		if (after && e->kind == WAIT_EVENT_CODE && !doubt)
			TELL(r, WAIT_AFTER_END, e->at.line, e->at.col,
			    "move it before the end, or remove it",
			    "wait code M%u stands after the program end and is never reached",
			    f->code[e->target].code);
		if (back && main && !f->profile->end_m99 && !m99)
			m99 = e->at.line;
		if ((back || e->kind == WAIT_EVENT_END) && e->skip)
			slash = true;
		else if (back || e->kind == WAIT_EVENT_END)
			after = true;
	}
	if (m99)
		TELL(r, END_MISSING, m99, 0,
		    f->units > 1 ? "put the main program first in the file and end it with M30, or "
		                   "set end_m99"
		                 : "end the main program with M30, or set end_m99",
		    "M99 in the main program (the first of the file): the machine's profile does "
		    "not "
		    "take it as an end");
	else if (!after && f->begun && main)
		TELL(r, END_MISSING, last_line(f, u), 0, "end the program with M30",
		    slash ? "the program end stands only in a block with a slash"
		          : "the program has no end: no M02, no M30");
	else if (!after && !main)
		TELL(r, END_MISSING, last_line(f, u), 0, "end the subprogram with M99",
		    "subprogram O%u (line %llu) has no M99%s", u->number,
		    (unsigned long long)u->line, slash ? " without a slash" : "");
}

static void tell_unknown(struct resolve *r, const struct wait_unit *u)
{
	for (size_t i = u->first; i < u->end; i++) {
		const struct wait_event *e = &r->f->event[i];
		if (e->kind == WAIT_EVENT_UNKNOWN && !e->told)
			TELL(r, FLOW_UNFOLLOWED, e->at.line, e->at.col,
			    "compare the wait codes by hand", "not followed: %s", e->why);
	}
}

/*
 * A program that is never called. One that ends with M30 is a second main program: which of the two
 * runs is chosen at the control. Wait codes in any other are met by nobody.
 */
static void tell_uncalled(struct resolve *r, const struct wait_unit *u)
{
	const struct wait_flow *f = r->f;
	const struct wait_event *code = NULL;
	bool calls = false, ends = false;

	for (size_t i = u->first; i < u->end; i++) {
		const struct wait_event *e = &f->event[i];
		if (e->kind == WAIT_EVENT_CODE && !code)
			code = e;
		calls |= e->kind == WAIT_EVENT_CALL || e->kind == WAIT_EVENT_UNKNOWN ||
		         e->kind == WAIT_EVENT_MACRO;
		ends |= e->kind == WAIT_EVENT_END;
	}
	if (ends && (code || calls)) {
		r->f->mains = true;
		TELL(r, FLOW_UNFOLLOWED, u->line, 0, "put each main program into a file of its own",
		    "O%u is a second main program: which of the two runs is chosen at the control",
		    u->number);
	} else if (code) {
		TELL(r, TEXT_AFTER_END, code->at.line, code->at.col,
		    "call it with M98, or remove it",
		    "wait code M%u stands in O%u (line %llu), which is never called",
		    f->code[code->target].code, u->number, (unsigned long long)u->line);
	}
}

/* A program that is reached and not followed may call any other. */
static bool follows_all(const struct wait_flow *f)
{
	for (size_t k = 0; k < f->units; k++)
		for (size_t i = f->unit[k].first; f->unit[k].mark && i < f->unit[k].end; i++)
			if (f->event[i].kind == WAIT_EVENT_UNKNOWN)
				return false;
	return true;
}

static void tell_depth(struct resolve *r)
{
	const struct wait_flow *f = r->f;
	const struct wait_unit *u = f->unit;
	const struct wait_event *e;

	if (u->height <= f->profile->call_depth)
		return;
	for (uint32_t level = 0; level < f->profile->call_depth; level++)
		u = &f->unit[f->event[u->deepest].target];
	e = &f->event[u->deepest];
	TELL(r, CALL_DEEP, e->at.line, e->at.col, "nest fewer calls",
	    "calls nest %u deep; the machine takes %u", f->unit->height, f->profile->call_depth);
}

/* Close the gaps of what does not matter, and note the skip levels of what does. */
static void compact(struct wait_flow *f)
{
	size_t n = 0;

	for (size_t k = 0; k < f->units; k++) {
		struct wait_unit *u = &f->unit[k];
		size_t first = n;
		for (size_t i = u->first; i < u->end; i++) {
			const struct wait_event *e = &f->event[i];
			if (e->kind == WAIT_EVENT_NONE)
				continue;
			if (e->skip && u->mark && (u->relevant || k == 0))
				f->skips |= 1u << e->skip;
			f->event[n++] = *e;
		}
		u->first = first;
		u->end = n;
	}
	f->events = n;
}

bool wait_call_resolve(struct wait_flow *f, struct findings *list, const char *file, int channel)
{
	struct resolve r = {.f = f, .list = list, .file = file, .channel = channel};
	bool ok = false, all;

	r.index = calloc(f->units, sizeof *r.index);
	r.stack = calloc(f->units, sizeof *r.stack);
	if (!r.index || !r.stack)
		goto out;
	for (size_t i = 0; i < f->units; i++)
		if (f->unit[i].numbered)
			r.index[r.entries++] = (struct entry){f->unit[i].number, (uint32_t)i};
	qsort(r.index, r.entries, sizeof *r.index, by_number);
	descend(&r);
	all = follows_all(f);
	for (size_t i = 0; i < f->units; i++) {
		if (!f->unit[i].mark && all)
			tell_uncalled(&r, &f->unit[i]);
		if (!f->unit[i].mark)
			continue;
		tell_end(&r, &f->unit[i]);
		tell_unknown(&r, &f->unit[i]);
	}
	tell_depth(&r);
	compact(f);
	ok = true;
out:
	free(r.stack);
	free(r.index);
	return ok;
}
