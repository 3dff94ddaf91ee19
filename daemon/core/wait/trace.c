/*
 * The walk says which instruction comes, the text says what stands in front of it:
 *
 *     follow the last step in the text -> blocks without instructions, one a call
 *         -> the block of the instruction: read, its words computed
 *         -> the walk does its instructions, one at a time -> that block is handed out
 *         -> what the walk answered: a code, an end
 */
#include "trace.h"

#include <stdlib.h>
#include "trace_text.h"

static const char *const run_long = "more steps than the check follows";

struct trace {
	struct wait_walk w;
	struct trace_text text;
	const struct wait_run *run;
	size_t choices; /* made so far */
	bool moved;     /* the text has not followed the walk's last step yet */
	bool answered;  /* the walk stands: the answer comes behind the block */
	uint64_t blocks_max;
	struct nc_pool pool; /* of the word at hand */
};

struct trace *trace_new(
    const struct wait_flow *f, const void *bytes, size_t n, const struct wait_run *run)
{
	struct trace *t = calloc(1, sizeof(*t));

	if (!t)
		return NULL;
	t->run = run;
	/* one pass over the text, and a few blocks for each step of the run */
	t->blocks_max = n + 8 * f->profile->run_max;
	if (!wait_walk_begin(&t->w, f, true) || !trace_text_begin(&t->text, f, bytes, n)) {
		trace_free(t);
		return NULL;
	}
	wait_walk_restart(&t->w, run->on);
	return t;
}

int trace_sister(struct trace *t, uint32_t file, const void *bytes, size_t n, const char *name)
{
	return trace_text_file(&t->text, file, bytes, n, name) ? 0 : -1;
}

void trace_free(struct trace *t)
{
	if (!t)
		return;
	wait_walk_end(&t->w);
	trace_text_end(&t->text);
	nc_pool_free(&t->pool);
	free(t);
}

static struct nc_value read_variable(void *ctx, uint32_t number)
{
	return wait_walk_read(ctx, number);
}

/* The value of a computed word, where it can be known. False without memory. */
static bool compute_word(struct trace *t, const struct nc_block *b, struct nc_word *w)
{
	size_t used;
	int64_t e, mantissa;
	uint8_t scale;
	struct nc_value v;

	t->pool.n = 0;
	e = nc_expr_value(&t->pool, b->text + w->col, b->length - w->col, &used);
	if (e == NC_EXPR_NO_MEMORY)
		return false;
	if (e < 0)
		return true;
	v = nc_expr_eval(&t->pool, (uint32_t)e, t->w.f->profile, read_variable, (void *)&t->w);
	if (!nc_value_decimal(&v, &mantissa, &scale))
		return true;
	w->mantissa = mantissa;
	w->scale = scale;
	w->flags = (uint8_t)((w->flags & ~NC_COMPUTED) | NC_POINT);
	return true;
}

/* The block at hand as it is executed: all its words, before any of its settings. */
static bool compute(struct trace *t)
{
	struct nc_cursor *c = trace_text_here(&t->text)->cursor;

	for (uint32_t i = 0; i < c->scan.words; i++)
		if (c->scan.word[i].flags & NC_COMPUTED &&
		    !compute_word(t, &c->block, &c->scan.word[i]))
			return false;
	return true;
}

static bool skipped(const struct trace *t, uint8_t level)
{
	return level && t->w.on >> level & 1;
}

static void hand_out(struct trace *t, struct trace_step *out, uint32_t depth)
{
	const struct trace_file *here = trace_text_here(&t->text);

	*out = (struct trace_step){.kind = TRACE_BLOCK,
	    .block = &here->cursor->block,
	    .file = here->name,
	    .depth = depth,
	    .assumed = t->w.assumed};
}

/* The next block in front of offset limit that is executed: 1 when there is one, 0, or -1 without
 * memory. */
static int block_before(struct trace *t, uint64_t limit)
{
	while (trace_text_block(&t->text, limit))
		if (!skipped(t, trace_text_here(&t->text)->cursor->block.skip))
			return compute(t) ? 1 : -1;
	return 0;
}

/* Take the conditions on unknown data as the run took them. */
static void take(struct trace *t)
{
	if (t->w.kind == WAIT_WALK_BRANCH && t->choices < t->run->choices)
		wait_walk_take(&t->w, t->run->choice[t->choices++]);
}

static void answer(const struct trace *t, struct trace_step *out)
{
	*out =
	    (struct trace_step){.kind = TRACE_LOST, .depth = t->w.depth, .assumed = t->w.assumed};
	if (t->text.read > t->blocks_max) {
		out->why = run_long;
		return;
	}
	switch (t->w.kind) {
	case WAIT_WALK_CODE:
		out->kind = TRACE_STOP;
		out->code = wait_walk_code(&t->w);
		break;
	case WAIT_WALK_END:
		out->kind = TRACE_END;
		break;
	case WAIT_WALK_ROUND:
		out->kind = TRACE_ROUND;
		break;
	case WAIT_WALK_BRANCH:
		out->why = "a condition on data that the program does not hold";
		break;
	case WAIT_WALK_LONG:
		out->why = run_long;
		break;
	case WAIT_WALK_ENDLESS:
		out->why = "a loop without an end";
		break;
	case WAIT_WALK_UNKNOWN:
	case WAIT_WALK_WENT:
		out->why = t->w.why;
		break;
	}
}

/* Do one instruction. Its block, when that was not passed yet, is executed with it: 1 when it is to
 * be handed out, 0, or -1 without memory. */
static int instruct(struct trace *t, struct trace_step *out)
{
	const struct wait_flow *f = t->w.f;
	const struct wait_instr *i = &f->instr[t->w.next];
	uint32_t depth = t->w.depth;
	struct nc_cursor *c;
	bool fresh = t->text.at.passed != i->offset, then;

	if (fresh) {
		fresh = trace_text_block(&t->text, (uint64_t)i->offset + 1) && !skipped(t, i->skip);
		t->text.at.passed = i->offset;
		if (fresh && !compute(t))
			return -1;
	}
	wait_walk_step(&t->w);
	take(t);
	t->answered = t->w.kind != WAIT_WALK_WENT;
	t->moved = true;
	/* a run that is too long, or of two main programs, stops in front of it */
	if (!fresh || t->w.kind == WAIT_WALK_LONG ||
	    (t->w.kind == WAIT_WALK_UNKNOWN && t->w.at == WAIT_NOWHERE))
		return 0;
	hand_out(t, out, depth);
	c = trace_text_here(&t->text)->cursor;
	then = i->op == WAIT_OP_UNLESS && t->w.move == WAIT_MOVE_THEN;
	c->block.words = then ? 0 : c->scan.words;
	return 1;
}

int trace_next(struct trace *t, struct trace_step *out)
{
	const struct wait_flow *f = t->w.f;

	for (;;) {
		const struct wait_unit *u;
		int found;

		if (t->answered || t->text.read > t->blocks_max) {
			answer(t, out);
			t->answered = out->kind != TRACE_STOP;
			return 0;
		}
		if (t->moved)
			trace_text_follow(&t->text, &t->w);
		t->moved = false;
		u = &f->unit[t->w.unit];
		found =
		    block_before(t, t->w.next < u->end ? f->instr[t->w.next].offset : UINT64_MAX);
		if (found > 0)
			hand_out(t, out, t->w.depth);
		else if (found == 0 && t->w.next < u->end)
			found = instruct(t, out);
		else if (found == 0) {
			/* the program runs out */
			wait_walk_step(&t->w);
			t->answered = t->w.kind != WAIT_WALK_WENT;
			t->moved = true;
		}
		if (found)
			return found < 0 ? -1 : 0;
	}
}
