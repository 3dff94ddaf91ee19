/*
 * What a control can do that executes while it reads (common practice): block after block, as they
 * come. It cannot go back, since what it has read is gone; it cannot go on to what it has not read;
 * calls lead to programs in its own memory and come back behind the block that made them.
 */
#include "flow.h"
#include "yoke/text.h"

/* One sentence: the place, then what stands there. */
static void tell(struct text *why, const struct wait_place *at, const char *what)
{
	text_printf(why, "line %llu", (unsigned long long)at->line);
	if (at->sequence >= 0)
		text_printf(why, " (N%lld)", (long long)at->sequence);
	text_printf(why, ": %s", what);
}

static const char *why_no_call(const struct wait_flow *f, const struct wait_call *c)
{
	if (c->unit == WAIT_COMPUTED)
		return "a call of a program whose number is computed: which it is, is not known";
	if (c->unit == WAIT_NOWHERE && c->resident)
		return c->why;
	if (c->unit == WAIT_NOWHERE || (c->unit < f->units && f->unit[c->unit].file))
		return "a call of a program that 'resident' does not name: whether the control has "
		       "it in its memory is not known";
	return "a call of a program in this file, which the control has not read yet or does not "
	       "have any more";
}

/* Why the control cannot do this instruction; NULL when it can. */
static const char *why_not(const struct wait_flow *f, const struct wait_instr *i, bool waits)
{
	switch ((enum wait_op)i->op) {
	case WAIT_OP_CODE:
		return waits ? NULL
		             : "a wait code, a wait call or a signal, and this control does none "
		               "while it reads (drip = alone)";
	case WAIT_OP_GOTO:
	case WAIT_OP_IF:
		return "a jump (GOTO): the control has only the blocks at hand";
	case WAIT_OP_WHILE:
	case WAIT_OP_LOOP:
		return "a loop (WHILE, DO, END): the control cannot go back";
	case WAIT_OP_CALL:
		return why_no_call(f, &f->call[i->a]);
	case WAIT_OP_RETURN:
		return "M99 leads back to text that the control does not have any more";
	case WAIT_OP_UNKNOWN:
		return f->why[i->a];
	case WAIT_OP_SET:
	case WAIT_OP_UNLESS:
	case WAIT_OP_CANCEL:
	case WAIT_OP_MOVE:
	case WAIT_OP_END:
		break;
	}
	return NULL;
}

/* The first place of the main program that the control cannot execute. */
static bool main_drips(const struct wait_flow *f, bool waits, struct text *why)
{
	const struct wait_place *contour = f->contour.line ? &f->contour : NULL;

	for (uint32_t i = f->unit[0].first; i < f->unit[0].end; i++) {
		const struct wait_instr *e = &f->instr[i];
		struct wait_place at = wait_flow_place(f, i);
		const char *what = why_not(f, e, waits);

		if (contour && contour->line <= at.line)
			break;
		if (!what)
			continue;
		tell(why, &at, what);
		if (e->op == WAIT_OP_UNKNOWN)
			text_puts(why, ", so that it cannot be told");
		return false;
	}
	if (!contour)
		return true;
	tell(why, contour,
	    "a cycle over a contour (P, Q): the control would have to read its blocks several times");
	return false;
}

bool wait_flow_drips(const struct wait_flow *f, bool waits, struct text *why)
{
	if (f->never) {
		text_printf(why, "it cannot be told: %s", f->never);
		return false;
	}
	if (!main_drips(f, waits, why))
		return false;
	if (f->units < 2 || f->unit[1].file)
		return true;
	text_printf(why,
	    "line %llu: a second program stands in the file, and the control reads no further than "
	    "the end of the first",
	    (unsigned long long)f->unit[1].line);
	return false;
}
