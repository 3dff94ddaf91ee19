/*
 * Settings, conditions, jumps and loops of a block, from its text: the reader has checked that they
 * are whole, here they become instructions.
 */
#include <string.h>
#include "build.h"

struct source {
	struct wait_flow *f;
	const char *s, *from, *end;
};

static bool is_letter(char c)
{
	return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

static uint32_t col(const struct source *t)
{
	return (uint32_t)(t->s - t->from) + 1;
}

static void blanks(struct source *t)
{
	while (t->s < t->end && (*t->s == ' ' || *t->s == '\t'))
		t->s++;
}

/* Past the keyword when it stands here; what follows may stand close to it. */
static bool keyword(struct source *t, const char *word)
{
	size_t n = strlen(word);

	if ((size_t)(t->end - t->s) < n)
		return false;
	for (size_t i = 0; i < n; i++)
		if ((t->s[i] & ~32) != word[i])
			return false;
	t->s += n;
	return true;
}

/* The expression here; WAIT_NOWHERE when there is none that can be read. False without memory. */
static bool expression(struct source *t, bool sum, uint32_t *expr)
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

static bool unreadable(struct source *t, uint32_t at)
{
	t->s = t->end;
	return wait_build_unknown(t->f, at, "a condition, jump or setting that cannot be read");
}

/* What the block itself sets before is read in it: controls take the old value or the new one. */
static bool same_block(const struct source *t, uint32_t expr)
{
	uint64_t set = t->f->build->set, reads = nc_expr_reads(&t->f->pool, expr);

	return (set & reads) || (set && reads & 1) || (set & 1 && reads);
}

static bool setting(struct source *t)
{
	static const char unknown[] = "#100";
	uint32_t at = col(t), index, value;
	struct wait_instr *i;
	struct nc_value v;
	uint64_t number;
	size_t used;

	t->s++; /* # */
	if (!expression(t, false, &index))
		return false;
	blanks(t);
	if (index == WAIT_NOWHERE || t->s == t->end || *t->s != '=')
		return unreadable(t, at);
	t->s++;
	if (!expression(t, true, &value))
		return false;
	if (value == WAIT_NOWHERE)
		return unreadable(t, at);
	if (same_block(t, value) || same_block(t, index)) {
		int64_t e = nc_expr_value(&t->f->pool, unknown, sizeof unknown - 1, &used);

		if (e < 0)
			return false;
		value = (uint32_t)e;
	}
	i = wait_build_add(t->f, WAIT_OP_SET, at);
	if (!i)
		return false;
	i->a = index;
	i->b = value;
	if (!nc_expr_is_constant(&t->f->pool, index)) {
		t->f->build->set |= 1;
		return true;
	}
	v = nc_expr_eval(&t->f->pool, index, t->f->profile, NULL, NULL);
	if (nc_value_whole(&v, &number) && number >= 1 && number <= 33)
		t->f->build->set |= (uint64_t)1 << number;
	return true;
}

/* GOTO, alone or behind a condition. */
static bool go_to(struct source *t, uint32_t at, uint32_t condition)
{
	struct wait_instr *i;
	uint32_t label;

	if (!expression(t, false, &label))
		return false;
	if (label == WAIT_NOWHERE)
		return unreadable(t, at);
	if (same_block(t, label) || (condition != WAIT_NOWHERE && same_block(t, condition)))
		return wait_build_unknown(t->f, at, "a jump by a value that its own block sets");
	i = wait_build_add(t->f, condition == WAIT_NOWHERE ? WAIT_OP_GOTO : WAIT_OP_IF, at);
	if (!i)
		return false;
	i->a = label;
	i->b = condition;
	i->target = WAIT_COMPUTED;
	return true;
}

static bool condition(struct source *t, uint32_t at, uint32_t *unless)
{
	struct wait_instr *i;
	uint32_t expr;

	if (!expression(t, false, &expr))
		return false;
	blanks(t);
	if (expr == WAIT_NOWHERE)
		return unreadable(t, at);
	if (keyword(t, "GOTO"))
		return go_to(t, at, expr);
	if (!keyword(t, "THEN") || *unless != WAIT_NOWHERE)
		return unreadable(t, at);
	if (same_block(t, expr))
		return wait_build_unknown(
		    t->f, at, "a condition on a value that its own block sets");
	i = wait_build_add(t->f, WAIT_OP_UNLESS, at);
	if (!i)
		return false;
	i->b = expr;
	*unless = (uint32_t)(i - t->f->instr);
	blanks(t);
	return !keyword(t, "GOTO") || go_to(t, at, WAIT_NOWHERE);
}

/* The number behind DO or END. */
static bool loop_number(struct source *t, uint32_t *number)
{
	uint32_t n = 0;
	size_t digits = 0;

	blanks(t);
	for (; t->s < t->end && *t->s >= '0' && *t->s <= '9' && digits < 6; t->s++, digits++)
		n = n * 10 + (uint32_t)(*t->s - '0');
	*number = n;
	return digits > 0;
}

static bool loop_begin(struct source *t, uint32_t at, uint32_t expr)
{
	struct wait_build *b = t->f->build;
	struct wait_instr *i;
	uint32_t number;

	if (!loop_number(t, &number))
		return unreadable(t, at);
	if (b->loops == WAIT_LOOPS_MAX)
		return wait_build_unknown(t->f, at, "loops that nest too deep to be followed");
	i = wait_build_add(t->f, WAIT_OP_WHILE, at);
	if (!i)
		return false;
	i->b = expr;
	b->loop[b->loops].instr = (uint32_t)(i - t->f->instr);
	b->loop[b->loops++].number = number;
	return true;
}

static bool loop_while(struct source *t, uint32_t at)
{
	uint32_t expr;

	if (!expression(t, false, &expr))
		return false;
	blanks(t);
	if (expr == WAIT_NOWHERE || !keyword(t, "DO"))
		return unreadable(t, at);
	return loop_begin(t, at, expr);
}

static bool loop_end(struct source *t, uint32_t at)
{
	struct wait_build *b = t->f->build;
	struct wait_instr *i;
	uint32_t number, begin;

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
	uint32_t why;

	while (b->loops) {
		struct wait_instr *i;

		why = wait_build_why(f, "a loop without its END");
		if (why == WAIT_NOWHERE)
			return false;
		i = &f->instr[b->loop[--b->loops].instr];
		i->op = WAIT_OP_UNKNOWN;
		i->a = why;
	}
	return true;
}

/* A word: its letter and its value are passed over. */
static bool word(struct source *t)
{
	const char *at = ++t->s;
	uint32_t expr;

	blanks(t);
	if (t->s < t->end && !is_letter(*t->s) && !expression(t, false, &expr))
		return false;
	/* SIN[..] stands close to its letter: XSIN[30] */
	if (t->s < t->end && is_letter(*t->s) && t->s == at && !expression(t, false, &expr))
		return false;
	return true;
}

static bool statement(struct source *t, uint32_t *unless)
{
	uint32_t at = col(t);

	if (*t->s == '#')
		return setting(t);
	if (!is_letter(*t->s)) {
		t->s++;
		return true;
	}
	if (keyword(t, "IF"))
		return condition(t, at, unless);
	if (keyword(t, "GOTO"))
		return go_to(t, at, WAIT_NOWHERE);
	if (keyword(t, "WHILE"))
		return loop_while(t, at);
	if (keyword(t, "ENDIF") || keyword(t, "ELSE"))
		return unreadable(t, at);
	if (keyword(t, "END"))
		return loop_end(t, at);
	if (keyword(t, "DO"))
		return loop_begin(t, at, WAIT_NOWHERE);
	return word(t);
}

bool wait_build_text(struct wait_flow *f, uint32_t *unless)
{
	const struct nc_block *b = f->build->block;
	struct source t = {f, b->text, b->text, b->text + b->length};

	if (b->flags & NC_UNCERTAIN && b->uncertain_col - 1 < b->length)
		t.end = b->text + b->uncertain_col - 1;
	while (t.s < t.end) {
		if (*t.s == ';')
			break;
		if (*t.s == '(') {
			while (t.s < t.end && *t.s != ')')
				t.s++;
			continue;
		}
		if (!statement(&t, unless))
			return false;
	}
	return true;
}
