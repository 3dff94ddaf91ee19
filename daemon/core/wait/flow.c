#include "flow.h"

#include <stdlib.h>
#include <string.h>
#include "build.h"
#include "findings.h"

struct wait_flow *wait_flow_new(const struct profile *profile)
{
	struct wait_flow *f = calloc(1, sizeof *f);

	if (!f)
		return NULL;
	f->profile = profile;
	f->unit = calloc(1, sizeof *f->unit);
	f->build = calloc(1, sizeof *f->build);
	if (!f->unit || !f->build) {
		wait_flow_free(f);
		return NULL;
	}
	f->units = f->units_cap = 1;
	return f;
}

void wait_flow_free(struct wait_flow *f)
{
	if (!f)
		return;
	for (size_t i = 0; i < f->units; i++)
		free(f->unit[i].name);
	nc_pool_free(&f->pool);
	for (size_t i = 0; i < f->calls; i++)
		free(f->call[i].name);
	free(f->index);
	free(f->loop);
	free(f->instr);
	free(f->idle);
	free(f->call);
	free(f->arg);
	free(f->unit);
	free(f->labels);
	free(f->code);
	free(f->why);
	free(f->build);
	free(f);
}

int wait_flow_block(struct wait_flow *f, const struct nc_block *b)
{
	struct wait_build *build = f->build;
	struct wait_look k;

	if (b->flags & NC_BLANK && !(b->flags & NC_UNCERTAIN) && !b->faults)
		return 0;
	if (build->closed) {
		if (build->led && b->words && !(b->flags & NC_PERCENT))
			f->never = WAIT_LED;
		return 0;
	}
	if (b->flags & NC_PERCENT) {
		build->led = !build->opened;
		build->closed = build->opened || build->begun;
		build->opened = true;
		if (build->closed)
			return 0;
	}
	build->last_line = b->line;
	wait_look(&k, f->profile, b);
	return wait_build_block(f, b, &k) ? 0 : -1;
}

bool wait_flow_whole(const struct wait_flow *f)
{
	return f->build->modal;
}

int wait_flow_plain(
    struct wait_flow *f, int64_t first, uint32_t step, uint64_t count, uint64_t last_line)
{
	struct wait_build *build = f->build;

	if (build->closed || !count)
		return 0;
	build->begun = true;
	build->last_line = last_line;
	/* some of them may move */
	f->unit[f->units - 1].bare = (uint32_t)f->instrs + 1;
	if (first < 0) {
		wait_contour_block(build, -1);
		return 0;
	}
	/* contours end at numbers, one by one */
	for (uint64_t i = 0; (build->armed || build->inside) && i < count; i++)
		wait_contour_block(build, first + (int64_t)(i * step));
	while (count) {
		uint32_t n = count > UINT32_MAX / 2 ? UINT32_MAX / 2 : (uint32_t)count;

		if (first + (int64_t)step * (n - 1) >= WAIT_TWICE)
			n = first < WAIT_TWICE ? (uint32_t)((WAIT_TWICE - 1 - first) / step) + 1
			                       : 0;
		if (!n)
			return 0;
		if (!wait_label_add(f, (uint32_t)first, step, n, 0))
			return -1;
		first += (int64_t)step * n;
		count -= n;
	}
	return 0;
}

int wait_flow_sister(struct wait_flow *f, const struct wait_flow *sister)
{
	if (f->sisters == WAIT_SISTERS_MAX)
		return -1;
	f->sister[f->sisters++] = sister;
	return 0;
}

/* What follows from the whole of it. False without memory. */
static bool resolve(struct wait_resolve *r)
{
	bool modal;

	if (!wait_label_resolve(r->f) || !wait_flow_find_loops(r->f) || !wait_resolve_calls(r->f) ||
	    !wait_reach(r) || !wait_resolve_depth(r) || !wait_reach_idle(r, &modal))
		return false;
	if (modal && !wait_reach_modal(r))
		return false;
	return wait_reach_tell(r);
}

int wait_flow_finish(
    struct wait_flow *f, struct findings *list, const char *file, int channel, bool library)
{
	struct wait_resolve r = {.f = f,
	    .list = list,
	    .file = file,
	    .channel = channel,
	    .library = library,
	    .begun = f->build->begun,
	    .full = f->build->full,
	    .last_line = f->build->last_line};
	int rc = -1;

	if (!wait_build_over(f))
		return -1;
	f->own_codes = f->codes;
	if (!wait_sister_append(f))
		return -1;
	r.reach = calloc(f->instrs + 1, 1);
	r.falls = calloc(f->units, 1);
	f->idle = calloc(f->instrs + 1, 1);
	if (r.reach && r.falls && f->idle && resolve(&r))
		rc = 0;
	free(r.falls);
	free(r.reach);
	free(f->build);
	f->build = NULL;
	return rc;
}

uint32_t wait_flow_unit_of(const struct wait_flow *f, uint32_t instr)
{
	size_t low = 0, high = f->units;

	while (high - low > 1) {
		size_t middle = low + (high - low) / 2;

		if (f->unit[middle].first <= instr)
			low = middle;
		else
			high = middle;
	}
	return (uint32_t)low;
}

struct wait_place wait_flow_place(const struct wait_flow *f, uint32_t instr)
{
	const struct wait_instr *i = &f->instr[instr];

	return (struct wait_place){
	    i->line, i->col, i->sequence, f->unit[wait_flow_unit_of(f, instr)].file};
}

uint32_t wait_flow_skips(const struct wait_flow *f)
{
	return f->skips;
}

size_t wait_flow_codes(const struct wait_flow *f)
{
	return f->own_codes;
}

const struct wait_code *wait_flow_code(const struct wait_flow *f, size_t i)
{
	return &f->code[i];
}
