/*
 * A channel's run as executed text: every block in the order in which the control executes it, with
 * the values of its words computed where they can be. The text is read again for it, between the
 * instructions of a walk.
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
	   no NC_COMPUTED. All words of a block have the values from before its settings (NISTIR
	   6556, 3.3.3). Without words where its IF passes them over. Blocks that a switch skips do
	   not come. Dies with the next step. */
	const struct nc_block *block;
	const struct wait_code *code; /* belongs to the flow */
	const char *why;              /* static text */
	const char
	    *file;      /* that the block stands in: NULL, the program's own, or a sister's name */
	uint32_t depth; /* calls on the way */
	bool assumed;   /* so far some condition was not known, matters to no wait code, and was
	                   taken as false: other runs execute other blocks */
};

struct trace;

/* bytes: the text that the flow was built from, n bytes; it must outlive the trace. run: of this
 * channel, from the result of a proof. NULL without memory. */
struct trace *trace_new(
    const struct wait_flow *f, const void *bytes, size_t n, const struct wait_run *run);
/* The text of a sister, numbered from 1 in the order in which they were given to the flow, and its
 * name; both must outlive the trace. Before the first step. Without it the sister's blocks do not
 * come, but its wait codes do. 0, -1 without memory. */
int trace_sister(struct trace *t, uint32_t file, const void *bytes, size_t n, const char *name);
/* 0, -1 without memory. After END, ROUND and LOST the answer stays. */
int trace_next(struct trace *t, struct trace_step *out);
void trace_free(struct trace *t);

#endif
