/*
 * Settings, conditions, jumps and loops of a block, from its text: the reader has checked that they
 * are whole, here they become instructions. Words are passed over.
 */
#include <string.h>
#include "build.h"

struct cursor {
	struct wait_flow *f;
	const char *s, *from, *end;
	uint32_t words; /* column of the first code, call or end, 0 without */
};

static bool is_letter(char c)
{
	return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

static uint32_t col(const struct cursor *t)
{
	return (uint32_t)(t->s - t->from) + 1;
}

static void blanks(struct cursor *t)
{
	while (t->s < t->end && (*t->s == ' ' || *t->s == '\t'))
		t->s++;
}

/* Past the keyword when it stands here; what follows may stand close to it. */
static bool keyword(struct cursor *t, const char *word)
{
	size_t n = strlen(word);

	if ((size_t)(t->end - t->s) < n)
		return false;
	for (size_t i = 0; i < n; i++)
		if (!is_letter(t->s[i]) || (t->s[i] & ~32) != word[i])
			return false;
	t->s += n;
	return true;
}

/* The expression here; WAIT_NOWHERE when there is none that can be read. False without memory. */
static bool expression(struct cursor *t, bool sum, uint32_t *expr)
{
	size_t used;
	int64_t e;

	blanks(t);
	e = sum ? nc_expr_sum(&t->f->pool, t->s, (size_t)(t->end - t->s), &used)
	        : nc_expr_value(&t->f->pool, t->s, (size_t)(t->end - t->s), &used);
	*expr = WAIT_NOWHERE;
	if (e == NC_EXPR_NO_MEMORY)
		return false;
	if (e >= 0) {
		*expr = (uint32_t)e;
		t->s += used;
	}
	return true;
}

static bool unreadable(struct cursor *t, uint32_t at)
{
	t->s = t->end;
	return wait_build_unknown(t->f, at, "a condition or jump that cannot be read");
}

bool wait_build_sets(const struct wait_flow *f, uint32_t expr)
{
	uint64_t set = f->build->set, reads;

	if (!set || expr == WAIT_NOWHERE)
		return false;
	reads = nc_expr_reads(&f->pool, expr);
	return (set & reads) || reads & 1 || (set & 1 && reads);
}

/* A value that is never known: that of a common variable. */
static bool any_value(struct wait_flow *f, uint32_t *expr)
{
	static const char common[] = "#100";
	size_t used;
	int64_t e = nc_expr_value(&f->pool, common, sizeof common - 1, &used);

	*expr = (uint32_t)e;
	return e >= 0;
}

static bool set(struct wait_flow *f, uint32_t at, uint32_t index, uint32_t value)
{
	struct wait_instr *i = wait_build_add(f, WAIT_OP_SET, at);
	struct nc_value v;
	uint64_t number;

	if (!i)
		return false;
	i->a = index;
	i->b = value;
	if (!nc_expr_is_constant(&f->pool, index)) {
		f->build->set |= 1;
		return true;
	}
	v = nc_expr_eval(&f->pool, index, f->profile, NULL, NULL);
	if (nc_value_whole(&v, &number) && number >= 1 && number <= 33)
		f->build->set |= (uint64_t)1 << number;
	return true;
}

bool wait_build_forget(struct wait_flow *f, uint32_t at)
{
	uint32_t any;

	return any_value(f, &any) && set(f, at, any, any);
}

/* True where a setting may end: at the end, a word, another setting. */
static bool ends_here(struct cursor *t)
{
	blanks(t);
	return t->s == t->end || is_letter(*t->s) || *t->s == '#';
}

static bool setting(struct cursor *t)
{
	const struct wait_build *b = t->f->build;
	uint32_t at = col(t), index, value;

	t->s++; /* # */
	if (!expression(t, false, &index))
		return false;
	blanks(t);
	if (index == WAIT_NOWHERE || t->s == t->end || *t->s != '=') {
		t->s = t->end;
		return wait_build_forget(t->f, at);
	}
	t->s++;
	if (!expression(t, true, &value))
		return false;
	/* a contour's blocks may be executed several times */
	if ((value == WAIT_NOWHERE || b->faulty || b->inside || !ends_here(t) ||
	        wait_build_sets(t->f, value)) &&
	    !any_value(t->f, &value))
		return false;
	if (wait_build_sets(t->f, index))
		return wait_build_forget(t->f, at);
	return set(t->f, at, index, value);
}

/* True when a jump here cannot be followed: told. */
static bool mixed(struct cursor *t, uint32_t at, bool *ok)
{
	if (t->f->build->faulty)
		*ok = unreadable(t, at);
	else if (t->words)
		*ok = wait_build_unknown(
		    t->f, at, "a jump in one block with a wait code, a call or an end");
	else
		return false;
	t->s = t->end;
	return true;
}

/* GOTO, alone or behind a condition. */
static bool go_to(struct cursor *t, uint32_t at, uint32_t condition)
{
	struct wait_instr *i;
	uint32_t label;
	bool ok;

	if (mixed(t, at, &ok))
		return ok;
	if (!expression(t, false, &label))
		return false;
	blanks(t);
	if (label == WAIT_NOWHERE || t->s < t->end)
		return unreadable(t, at);
	if (wait_build_sets(t->f, label) || wait_build_sets(t->f, condition))
		return wait_build_unknown(t->f, at, "a jump by a value that its own block sets");
	i = wait_build_add(t->f, condition == WAIT_NOWHERE ? WAIT_OP_GOTO : WAIT_OP_IF, at);
	if (!i)
		return false;
	i->a = label;
	i->b = condition;
	i->target = WAIT_COMPUTED;
	return true;
}

/* Behind IF [..] THEN. */
static bool then(struct cursor *t, uint32_t at, uint32_t expr, uint32_t *unless)
{
	struct wait_instr *i;

	blanks(t);
	/* a wait call leaves nothing in the text */
	if (t->s == t->end && !t->words)
		return wait_build_unknown(t->f, at, "a condition over several blocks");
	if (t->words && t->words < at)
		return wait_build_unknown(
		    t->f, at, "a wait code, a call or an end in front of a condition");
	if (t->f->build->faulty)
		return unreadable(t, at);
	if (wait_build_sets(t->f, expr))
		return wait_build_unknown(
		    t->f, at, "a condition on a value that its own block sets");
	i = wait_build_add(t->f, WAIT_OP_UNLESS, at);
	if (!i)
		return false;
	i->b = expr;
	*unless = (uint32_t)(i - t->f->instr);
	return true;
}

static bool condition(struct cursor *t, uint32_t at, uint32_t *unless)
{
	uint32_t expr;

	blanks(t);
	if (t->s == t->end || *t->s != '[')
		return unreadable(t, at);
	if (!expression(t, false, &expr))
		return false;
	blanks(t);
	if (expr == WAIT_NOWHERE)
		return unreadable(t, at);
	if (keyword(t, "GOTO"))
		return go_to(t, at, expr);
	if (*unless != WAIT_NOWHERE || !keyword(t, "THEN"))
		return unreadable(t, at);
	return then(t, at, expr, unless);
}

/* The number behind DO or END, the last of its block. */
static bool loop_number(struct cursor *t, uint32_t *number)
{
	size_t digits = 0;

	*number = 0;
	blanks(t);
	for (; t->s < t->end && is_digit(*t->s) && digits < 6; t->s++, digits++)
		*number = *number * 10 + (uint32_t)(*t->s - '0');
	blanks(t);
	return digits > 0 && t->s == t->end;
}

static bool loop_begin(struct cursor *t, uint32_t at, uint32_t expr)
{
	struct wait_build *b = t->f->build;
	struct wait_instr *i;
	uint32_t number;
	bool ok;

	if (mixed(t, at, &ok))
		return ok;
	if (!loop_number(t, &number))
		return unreadable(t, at);
	if (b->loops == WAIT_LOOPS_MAX)
		return wait_build_unknown(t->f, at, "loops that nest too deep to be followed");
	for (size_t k = 0; k < b->loops; k++)
		if (b->loop[k].number == number)
			return wait_build_unknown(
			    t->f, at, "a loop within another one of the same number");
	if (wait_build_sets(t->f, expr))
		return wait_build_unknown(
		    t->f, at, "a condition on a value that its own block sets");
	i = wait_build_add(t->f, WAIT_OP_WHILE, at);
	if (!i)
		return false;
	i->b = expr;
	b->loop[b->loops].instr = (uint32_t)(i - t->f->instr);
	b->loop[b->loops++].number = number;
	return true;
}

static bool loop_while(struct cursor *t, uint32_t at)
{
	uint32_t expr;

	blanks(t);
	if (t->s == t->end || *t->s != '[')
		return unreadable(t, at);
	if (!expression(t, false, &expr))
		return false;
	blanks(t);
	if (expr == WAIT_NOWHERE || !keyword(t, "DO"))
		return unreadable(t, at);
	return loop_begin(t, at, expr);
}

static bool loop_end(struct cursor *t, uint32_t at)
{
	struct wait_build *b = t->f->build;
	struct wait_instr *i;
	uint32_t number, begin;
	bool ok;

	if (mixed(t, at, &ok))
		return ok;
	if (!loop_number(t, &number))
		return unreadable(t, at);
	if (!b->loops || b->loop[b->loops - 1].number != number)
		return wait_build_unknown(t->f, at, "an END that does not belong to the last DO");
	begin = b->loop[--b->loops].instr;
	i = wait_build_add(t->f, WAIT_OP_LOOP, at);
	if (!i)
		return false;
	i->target = begin;
	t->f->instr[begin].target = (uint32_t)t->f->instrs;
	return true;
}

bool wait_build_loops(struct wait_flow *f)
{
	struct wait_build *b = f->build;

	while (b->loops)
		if (!wait_build_lost(f, b->loop[--b->loops].instr, "a loop without its END"))
			return false;
	return true;
}

/* Past brackets. */
static void brackets(struct cursor *t)
{
	size_t depth = 0;

	for (; t->s < t->end; t->s++) {
		depth += *t->s == '[';
		depth -= *t->s == ']';
		if (!depth)
			break;
	}
	if (t->s < t->end)
		t->s++;
}

/* Past a value: a number, brackets, a function, a variable. */
static void value(struct cursor *t)
{
	const char *name;

	blanks(t);
	while (t->s < t->end && (*t->s == '-' || *t->s == '+' || *t->s == '#')) {
		t->s++;
		blanks(t);
	}
	for (name = t->s; name < t->end && is_letter(*name);)
		name++;
	if (name - t->s > 1 && name < t->end && *name == '[')
		t->s = name;
	if (t->s < t->end && *t->s == '[') {
		brackets(t);
		return;
	}
	if (t->s < t->end && *t->s == '<')
		while (t->s < t->end && *t->s++ != '>')
			;
	while (t->s < t->end && (is_digit(*t->s) || *t->s == '.'))
		t->s++;
}

static bool statement(struct cursor *t, uint32_t *unless)
{
	uint32_t at = col(t);
	bool jumps = (t->f->build->block->flags & NC_JUMP) != 0;

	if (*t->s == '#')
		return setting(t);
	if (*t->s == '[') {
		brackets(t);
		return true;
	}
	if (jumps && keyword(t, "IF"))
		return condition(t, at, unless);
	if (jumps && keyword(t, "GOTO"))
		return go_to(t, at, WAIT_NOWHERE);
	if (jumps && keyword(t, "WHILE"))
		return loop_while(t, at);
	if (jumps && (keyword(t, "ENDIF") || keyword(t, "ELSE") || keyword(t, "THEN")))
		return wait_build_unknown(t->f, at, "a condition over several blocks");
	if (jumps && keyword(t, "END"))
		return loop_end(t, at);
	if (jumps && keyword(t, "DO"))
		return loop_begin(t, at, WAIT_NOWHERE);
	if (is_letter(*t->s++))
		value(t);
	return true;
}

bool wait_build_text(struct wait_flow *f, uint32_t words, uint32_t *unless)
{
	const struct wait_build *b = f->build;
	struct cursor t = {f, b->text, b->text, b->text + b->length, words};

	for (blanks(&t); t.s < t.end; blanks(&t))
		if (!statement(&t, unless))
			return false;
	return true;
}
