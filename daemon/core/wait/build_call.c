/* Calls, ends and returns of a block. */
#include <stdlib.h>
#include <string.h>
#include "build.h"

/* The value of a word as an expression: a constant, or what is computed from the text behind its
 * letter. False without memory; WAIT_NOWHERE when it cannot be read. */
static bool value(struct wait_flow *f, const struct nc_word *w, uint32_t *expr)
{
	const struct wait_build *b = f->build;
	int64_t e = NC_EXPR_NONE;
	size_t used;

	*expr = WAIT_NOWHERE;
	if (w->flags & (NC_HUGE | NC_NAME))
		return true;
	if (!(w->flags & NC_COMPUTED))
		e = nc_expr_constant(&f->pool, w->mantissa, w->scale);
	else if (w->col <= b->length)
		e = nc_expr_value(&f->pool, b->text + w->col, b->length - w->col, &used);
	if (e == NC_EXPR_NO_MEMORY)
		return false;
	/* the block's own settings: before or after, as the control likes */
	if (e >= 0 && !wait_build_sets(f, (uint32_t)e))
		*expr = (uint32_t)e;
	return true;
}

/* The local variable that an argument's letter sets, 0 for none (common practice). */
static uint32_t local_of(char letter)
{
	static const char letters[] = "ABCIJKDEFHMQRSTUVWXYZ";
	static const uint8_t local[] = {
	    1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 13, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26};
	const char *at = letter ? strchr(letters, letter) : NULL;

	return at ? local[at - letters] : 0;
}

/*
 * True when the number that the called program gets is the one written. Lengths and angles without
 * a point count in increments on most controls (checked values: decimal-point input types).
 */
static bool as_written(const struct profile *p, const struct nc_word *w)
{
	return w->flags & (NC_POINT | NC_COMPUTED) || w->mantissa == 0 || p->increment == 1 ||
	       strchr("DHMST", w->letter);
}

/* The arguments of a macro call. Where a letter stands twice it sets another variable: then none of
 * them is known. */
static bool arguments(struct wait_flow *f, const struct wait_look *k, struct wait_call *call)
{
	uint32_t seen = 0, twice = 0, expr;

	call->arg = (uint32_t)f->args;
	for (size_t i = 0; i < k->words; i++) {
		const struct nc_word *w = &f->build->block->word[i];
		uint32_t local = local_of(w->letter);
		struct wait_arg *a;

		if (!local || w->flags & NC_COMMA)
			continue;
		twice |= seen & 1u << local;
		seen |= 1u << local;
		if (!as_written(f->profile, w))
			continue;
		if (!value(f, w, &expr))
			return false;
		if (expr == WAIT_NOWHERE)
			continue;
		a = wait_build_room(f->arg, f->args, &f->args_cap, sizeof *a);
		if (!a)
			return false;
		f->arg = a;
		f->arg[f->args++] = (struct wait_arg){local, expr};
		call->args++;
	}
	if (twice)
		call->args = 0;
	return true;
}

static int64_t g_of(const struct nc_word *w)
{
	int64_t g = w->mantissa;

	for (unsigned i = 0; i < w->scale; i++)
		g /= 10;
	return g;
}

static bool repeats(struct wait_flow *f, const struct wait_look *k, struct wait_call *call)
{
	uint64_t times;

	call->repeat = WAIT_NOWHERE;
	if (!k->l)
		return true;
	if (!value(f, k->l, &call->repeat))
		return false;
	if (call->repeat == WAIT_NOWHERE)
		call->why = "the repeats of a call cannot be read";
	else if (!(k->l->flags & NC_COMPUTED) &&
	         (!nc_word_whole(k->l, &times) || times == 0 || times > UINT32_MAX))
		call->why = "the repeats of a call are 0 or no whole number";
	return true;
}

/* The name between < and >, in upper case; NULL without memory. */
char *wait_build_name(const struct nc_block *b, const struct nc_word *w)
{
	size_t n = w->mantissa > 0 ? (size_t)w->mantissa : 0,
	       at = b->name_col ? b->name_col - 1 : 0;
	char *name;

	if (at > b->length || n > b->length - at)
		n = 0;
	name = calloc(n + 1, 1);
	for (size_t i = 0; name && i < n; i++) {
		char c = b->text[at + i];

		name[i] = c >= 'a' && c <= 'z' ? (char)(c - 32) : c;
	}
	return name;
}

/* Which program is called. *lost: why not even that can be read. */
static bool program(
    struct wait_flow *f, const struct wait_look *k, struct wait_call *call, const char **lost)
{
	uint64_t number;

	call->program = WAIT_NOWHERE;
	if (k->name && !k->p) {
		call->name = wait_build_name(f->build->block, k->name);
		return call->name != NULL;
	}
	if (!k->p || k->name) {
		*lost = k->p ? "a call with a name and P" : "a call without P";
		return true;
	}
	if (!value(f, k->p, &call->program))
		return false;
	if (call->program == WAIT_NOWHERE)
		*lost = "the number of the called program cannot be read";
	else if (!(k->p->flags & NC_COMPUTED) &&
	         (!nc_word_whole(k->p, &number) || number > UINT32_MAX))
		*lost = "the number of the called program is no whole number";
	return true;
}

static bool add(struct wait_flow *f, const struct wait_call *call, uint32_t col)
{
	struct wait_call *c = wait_build_room(f->call, f->calls, &f->calls_cap, sizeof *c);
	struct wait_instr *i;

	if (!c)
		return false;
	f->call = c;
	i = wait_build_add(f, WAIT_OP_CALL, col);
	if (!i)
		return false;
	i->a = (uint32_t)f->calls;
	f->call[f->calls++] = *call;
	return true;
}

bool wait_build_call(struct wait_flow *f, const struct wait_look *k)
{
	const struct nc_word *w = k->call ? k->call : k->macro;
	struct wait_call call = {.unit = WAIT_COMPUTED};
	const char *lost = k->calls > 1 ? "more than one call in a block" : NULL;
	bool modal = !k->call && g_of(w) == 66;

	call.kind = k->call ? WAIT_CALL_SUB : modal ? WAIT_CALL_MODAL : WAIT_CALL_MACRO;
	f->build->modal |= modal;
	if (!lost && !program(f, k, &call, &lost))
		return false;
	if (lost)
		return wait_build_unknown(f, w->col, lost);
	if (!repeats(f, k, &call) || (!k->call && !arguments(f, k, &call)))
		goto failed;
	if (f->build->inside)
		call.why = "a call inside the contour of a cycle";
	else if (!k->call && w->scale && !call.why)
		call.why = "a macro call with a decimal G code (G66.1)";
	if (!add(f, &call, w->col))
		goto failed;
	return true;
failed:
	free(call.name);
	return false;
}

/* M99, M02, M30. */
bool wait_build_end(struct wait_flow *f, const struct wait_look *k)
{
	const struct nc_word *w = k->end ? k->end : k->sub_end;
	struct wait_instr *i;
	uint32_t label = WAIT_NOWHERE;

	if (k->end)
		return wait_build_add(f, WAIT_OP_END, w->col) != NULL;
	if (k->l)
		return wait_build_unknown(f, w->col, "M99 with L");
	if (k->p && !value(f, k->p, &label))
		return false;
	if (k->p && label == WAIT_NOWHERE)
		return wait_build_unknown(f, w->col, "M99 with P that cannot be read");
	i = wait_build_add(f, WAIT_OP_RETURN, w->col);
	if (!i)
		return false;
	i->a = label;
	if (k->p)
		i->target = WAIT_COMPUTED;
	return true;
}
