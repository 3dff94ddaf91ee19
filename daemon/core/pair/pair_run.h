/*
 * One channel's run in its text, block by block, with the modal state: what setup sheet and restart
 * points share.
 */
#ifndef PAIR_RUN_H
#define PAIR_RUN_H

#include "modal.h"
#include "pair_state.h"
#include "trace.h"

struct pair_run {
	const struct program *program;
	struct trace *trace;
	struct modal modal;     /* behind the last block that was executed */
	struct modal_step done; /* what that block did */
	bool called;            /* the last block calls a program, */
	uint32_t from;          /* at this depth */
	/* The last step showed that the call before it was not gone into: the program lives in the
	   control, or is missing. */
	bool not_entered;
};

/*
 * Begin. lane: the channel of the machine; its program is there and its bytes were lent. run: from
 * the report's result, or of its own; it must outlive the run. End it also after false: no memory.
 */
bool pair_run_begin(
    struct pair_run *r, const struct pair_report *report, int lane, const struct wait_run *run);
void pair_run_end(struct pair_run *r);

/* The next step, and what a call that was not gone into leaves behind. As trace_next. */
int pair_run_next(struct pair_run *r, struct trace_step *step);

/* Execute the block of a step: modal and done. */
void pair_run_do(struct pair_run *r, const struct trace_step *step);

/* The name of the file that a step's block stands in. */
static inline const char *pair_run_file(const struct pair_run *r, const struct trace_step *step)
{
	return step->file ? step->file : r->program->file;
}

/* N of a block, -1 without. */
int64_t pair_run_sequence(const struct nc_block *b);

#endif
