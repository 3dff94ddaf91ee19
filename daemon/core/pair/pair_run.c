/* A channel's trace with its modal state. */
#include "pair_run.h"

#include <string.h>

static bool sisters(struct pair_run *r)
{
	const struct program *p = r->program;

	for (size_t i = 0; i < p->sisters; i++) {
		const struct program *s = p->sister[i];

		if (s->bytes &&
		    trace_sister(r->trace, (uint32_t)i + 1, s->bytes, s->bytes_n, s->file) != 0)
			return false;
	}
	return true;
}

bool pair_run_begin(
    struct pair_run *r, const struct pair_report *report, int lane, const struct wait_run *run)
{
	memset(r, 0, sizeof(*r));
	r->program = report->lane[lane].program;
	modal_begin(&r->modal, report->profile, &report->profile->channel[lane]);
	r->trace = trace_new(r->program->flow, r->program->bytes, r->program->bytes_n, run);
	return r->trace && sisters(r);
}

void pair_run_end(struct pair_run *r)
{
	trace_free(r->trace);
	r->trace = NULL;
}

static bool calls(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		if ((w->letter == 'M' && modal_code(w) == 980) ||
		    (w->letter == 'G' && modal_code(w) == 650))
			return true;
	}
	return false;
}

int pair_run_next(struct pair_run *r, struct trace_step *step)
{
	if (trace_next(r->trace, step) != 0)
		return -1;
	r->not_entered = r->called && step->depth <= r->from;
	if (r->not_entered)
		modal_passed(&r->modal);
	r->called = step->kind == TRACE_BLOCK && calls(step->block);
	r->from = step->depth;
	return 0;
}

void pair_run_do(struct pair_run *r, const struct trace_step *step)
{
	modal_block(&r->modal, step->block, &r->done);
}

int64_t pair_run_sequence(const struct nc_block *b)
{
	const struct nc_word *w = nc_block_word(b, 'N');
	uint64_t n;

	return w && nc_word_whole(w, &n) && n <= INT64_MAX ? (int64_t)n : -1;
}
