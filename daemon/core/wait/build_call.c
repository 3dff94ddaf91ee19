/* Calls, ends and returns of a block. */
#include <string.h>
#include "build.h"

/* The value of a word as an expression: a constant, or what is computed from the text behind its
 * letter. False without memory; WAIT_NOWHERE when it cannot be read. */
static bool value(struct wait_flow *f, const struct nc_word *w, uint32_t *expr)
{
	const struct nc_block *b = f->build->block;
	int64_t e;
	size_t used;

	*expr = WAIT_NOWHERE;
	if (w->flags & (NC_HUGE | NC_NAME))
		return true;
	if (w->flags & NC_COMPUTED)
		e = w->col <= b->length
		        ? nc_expr_value(&f->pool, b->text + w->col, b->length - w->col, &used)
		        : NC_EXPR_NONE;
	else
		e = nc_expr_constant(&f->pool, w->mantissa, w->scale);
	if (e == NC_EXPR_NO_MEMORY)
		return false;
	if (e >= 0)
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

/* The arguments of a macro call. *twice: a letter stands twice, which sets other variables. */
static bool arguments(
    struct wait_flow *f, const struct wait_look *k, struct wait_call *call, bool *twice)
{
	const struct nc_block *b = f->build->block;
	uint32_t seen = 0;

	call->arg = (uint32_t)f->args;
	for (size_t i = 0; i < k->words; i++) {
		const struct nc_word *w = &b->word[i];
		uint32_t local = local_of(w->letter), expr;
		struct wait_arg *a;

		if (!local)
			continue;
		*twice |= (seen >> local & 1) != 0;
		seen |= 1u << local;
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
	return true;
}

static bool is_modal(const struct nc_word *macro)
{
	int64_t g = macro->mantissa;

	for (unsigned i = 0; i < macro->scale; i++)
		g /= 10;
	return g == 66;
}

/* Repeats: once without L; L0, a fraction or the like is not followed. */
static const char *repeats(
    struct wait_flow *f, const struct wait_look *k, struct wait_call *call, bool *ok)
{
	uint64_t times;

	call->repeat = WAIT_NOWHERE;
	*ok = true;
	if (!k->l)
		return NULL;
	*ok = value(f, k->l, &call->repeat);
	if (*ok && call->repeat == WAIT_NOWHERE)
		return "the repeats of a call cannot be read";
	if (!(k->l->flags & NC_COMPUTED) &&
	    (!nc_word_whole(k->l, &times) || times == 0 || times > UINT32_MAX))
		return "the repeats of a call are 0 or no whole number";
	return NULL;
}

static const char *program(
    struct wait_flow *f, const struct wait_look *k, struct wait_call *call, bool *ok)
{
	uint64_t number;

	*ok = true;
	if (!k->p)
		return "a call without P";
	*ok = value(f, k->p, &call->program);
	if (*ok && call->program == WAIT_NOWHERE)
		return "the number of the called program cannot be read";
	if (!(k->p->flags & NC_COMPUTED) && (!nc_word_whole(k->p, &number) || number > UINT32_MAX))
		return "the number of the called program is no whole number";
	return NULL;
}

bool wait_build_call(struct wait_flow *f, const struct wait_look *k)
{
	const struct nc_word *w = k->call ? k->call : k->macro;
	struct wait_call call = {.unit = WAIT_COMPUTED}, *c;
	struct wait_instr *i;
	bool ok = true, twice = false;
	const char *why = k->calls > 1 ? "more than one call in a block" : NULL;

	if (f->build->inside)
		why = "a call inside the contour of a cycle";
	if (k->macro && is_modal(k->macro)) {
		f->build->modal = true;
		if (k->macro->scale)
			why = "a modal call for every block (G66.1)";
	}
	call.kind = k->call ? WAIT_CALL_SUB : is_modal(w) ? WAIT_CALL_MODAL : WAIT_CALL_MACRO;
	if (!why)
		why = program(f, k, &call, &ok);
	if (ok && !why)
		why = repeats(f, k, &call, &ok);
	if (ok && !why && !k->call)
		ok = arguments(f, k, &call, &twice);
	if (!ok)
		return false;
	if (twice && !why)
		why = "a macro call with an argument that stands twice";
	if (why)
		return wait_build_unknown(f, w->col, why);
	c = wait_build_room(f->call, f->calls, &f->calls_cap, sizeof *c);
	if (!c)
		return false;
	f->call = c;
	f->call[f->calls++] = call;
	i = wait_build_add(f, WAIT_OP_CALL, w->col);
	if (i)
		i->a = (uint32_t)f->calls - 1;
	return i != NULL;
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
	if (i)
		i->a = label;
	return i != NULL;
}
