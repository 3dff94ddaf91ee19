/*
 * A channel's run as executed text: every block in the order in which the control executes it, with
 * the values of its words computed where they can be. The text is read again for it.
 */
#ifndef WAIT_TRACE_H
#define WAIT_TRACE_H

#include "wait.h"

enum trace_kind {
	TRACE_BLOCK, /* a block was executed; its wait code, if any, comes as TRACE_STOP behind it
	              */
	TRACE_STOP,  /* the channel stands at code */
	TRACE_END,
	TRACE_ROUND, /* the program begins again; the trace ends here */
	TRACE_LOST,  /* it cannot be followed further: why */
};

struct trace_step {
	enum trace_kind kind;
	/* As the reader gives it; a computed word whose value is known has its value, NC_POINT, and
	   no NC_COMPUTED. Blocks that a switch skips do not come. Dies with the next step. */
	const struct nc_block *block;
	const struct wait_code *code; /* belongs to the flow */
	const char *why;
	const char *file; /* that the block stands in: the program's or a sister's name */
	uint32_t depth;   /* calls on the way */
};

struct trace;

/* bytes: the text that the flow was built from, n bytes; it must outlive the trace. run: of this
 * channel, from the result of a proof. NULL without memory. */
struct trace *trace_new(
    const struct wait_flow *f, const void *bytes, size_t n, const struct wait_run *run);
/* 0, -1 without memory. After END, ROUND and LOST the answer stays. */
int trace_next(struct trace *t, struct trace_step *out);
void trace_free(struct trace *t);

#endif
