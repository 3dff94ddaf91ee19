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
	free(f->index);
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

void *wait_build_room(void *v, size_t n, size_t *cap, size_t size)
{
	size_t more = *cap ? *cap * 2 : 64;
	void *w;

	if (n < *cap)
		return v;
	if (more > UINT32_MAX / 2)
		return NULL;
	w = reallocarray(v, more, size);
	if (w)
		*cap = more;
	return w;
}

uint32_t wait_build_why(struct wait_flow *f, const char *why)
{
	const char **more;

	for (size_t i = 0; i < f->whys; i++)
		if (strcmp(f->why[i], why) == 0)
			return (uint32_t)i;
	more = wait_build_room(f->why, f->whys, &f->whys_cap, sizeof *f->why);
	if (!more)
		return WAIT_NOWHERE;
	f->why = more;
	f->why[f->whys] = why;
	return (uint32_t)f->whys++;
}

struct wait_instr *wait_build_add(struct wait_flow *f, enum wait_op op, uint32_t col)
{
	struct wait_instr *i = wait_build_room(f->instr, f->instrs, &f->instrs_cap, sizeof *i);
	const struct nc_block *b = f->build->block;

	if (!i)
		return NULL;
	f->instr = i;
	i += f->instrs++;
	*i = (struct wait_instr){.op = (uint8_t)op,
	    .skip = b->skip,
	    .col = col > UINT16_MAX ? UINT16_MAX : (uint16_t)col,
	    .line = b->line > UINT32_MAX ? UINT32_MAX : (uint32_t)b->line,
	    .offset = b->offset > UINT32_MAX ? UINT32_MAX : (uint32_t)b->offset,
	    .sequence = f->build->sequence,
	    .a = WAIT_NOWHERE,
	    .b = WAIT_NOWHERE,
	    .target = WAIT_NOWHERE};
	return i;
}

bool wait_build_unknown(struct wait_flow *f, uint32_t col, const char *why)
{
	uint32_t text = wait_build_why(f, why);
	struct wait_instr *i =
	    text == WAIT_NOWHERE ? NULL : wait_build_add(f, WAIT_OP_UNKNOWN, col);

	if (i)
		i->a = text;
	return i != NULL;
}

/* A program number: the first one names the main program, each later one begins another. */
static bool number(struct wait_flow *f, const struct nc_word *w, const struct nc_block *b)
{
	struct wait_unit *u = &f->unit[f->units - 1];
	uint64_t value;

	if (!nc_word_whole(w, &value) || value > UINT32_MAX)
		return true;
	if (u->numbered) {
		if (!wait_build_loops(f))
			return false;
		u->end = (uint32_t)f->instrs;
		u = wait_build_room(f->unit, f->units, &f->units_cap, sizeof *u);
		if (!u)
			return false;
		f->unit = u;
		u += f->units++;
		*u = (struct wait_unit){.first = (uint32_t)f->instrs,
		    .label = (uint32_t)f->labels_n,
		    .offset = b->offset > UINT32_MAX ? UINT32_MAX : (uint32_t)b->offset};
		wait_contour_begin(f->build);
	}
	u->number = (uint32_t)value;
	u->numbered = true;
	u->line = b->line;
	return true;
}

/* True when text holds an M with a number, or a word of control flow: something that could matter.
 */
static bool could_matter(const char *s, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		size_t k = i + 1;
		if (s[i] == 'O' || s[i] == 'o') {
			if (i && n - i >= 2 && (s[i - 1] & ~32) == 'G' && (s[k] & ~32) == 'T')
				return true;
			continue;
		}
		if ((s[i] & ~32) != 'M' && (s[i] & ~32) != 'G')
			continue;
		while (k < n && (s[k] == ' ' || s[k] == '\t'))
			k++;
		if (k < n && (s[i] & ~32) == 'M' && (s[k] == '#' || s[k] == '['))
			return true;
		if (k < n && s[k] >= '0' && s[k] <= '9' &&
		    ((s[i] & ~32) == 'M' || (s[k] == '6' && k + 1 < n)))
			return true;
	}
	return false;
}

/* Faults in the block that may hide or feign something that matters. NULL when there are none. */
static const char *doubt(const struct nc_block *b)
{
	if (b->flags & NC_UNCERTAIN &&
	    could_matter(b->text + b->uncertain_col - 1, b->length - (b->uncertain_col - 1)))
		return "a comment that is nested or not closed may hide a code";
	for (size_t i = 0; i < b->faults; i++) {
		enum nc_fault_kind kind = b->fault[i].kind;
		if (kind == NC_FAULT_LONG)
			return "the block was not read to its end";
		if ((kind == NC_FAULT_NUMBER || kind == NC_FAULT_WORD || kind == NC_FAULT_NUL) &&
		    could_matter(b->text, b->length))
			return "a block with M codes that cannot be read";
	}
	return NULL;
}

/* A block that moves: a modal call may be made behind it. */
static bool moves(const struct nc_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (memchr("XYZUVW", b->word[i].letter, 6))
			return true;
	return false;
}

static bool cancels(const struct nc_block *b, uint32_t *col)
{
	uint64_t g;

	for (size_t i = 0; i < b->words; i++) {
		*col = b->word[i].col;
		if (b->word[i].letter == 'G' && nc_word_whole(&b->word[i], &g) && g == 67)
			return true;
	}
	return false;
}

static bool modal(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	uint32_t col;

	if (!f->build->modal || k->macro)
		return true;
	if (cancels(b, &col) && !wait_build_add(f, WAIT_OP_CANCEL, col))
		return false;
	return !moves(b) || wait_build_add(f, WAIT_OP_MOVE, 1);
}

/* Codes, doubts, call, end: in the order in which a block does them. */
static bool words(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	const char *why = doubt(b);

	if (k->macro && (k->waits || k->call || k->end || k->sub_end))
		return wait_build_unknown(f, 1, "a macro call with M codes as its arguments");
	/* codes whose order is not known are not met in the order of the text */
	if (k->waits > 1 && !wait_build_unknown(f, 1, k->why))
		return false;
	if (!wait_build_codes(f, k))
		return false;
	if (why && !wait_build_unknown(f, 1, why))
		return false;
	if (k->why && k->waits < 2 && !wait_build_unknown(f, 1, k->why))
		return false;
	if (k->calls && !k->why && !wait_build_call(f, k))
		return false;
	if (!modal(f, b, k))
		return false;
	return (!k->end && !k->sub_end) || wait_build_end(f, k);
}

static bool take(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	uint32_t unless = WAIT_NOWHERE;

	f->build->first = (uint32_t)f->instrs;
	f->build->set = 0;
	wait_contour_block(f->build, k->sequence);
	if (k->sequence >= 0 && k->sequence < WAIT_TWICE &&
	    !wait_label_add(f, (uint32_t)k->sequence, 0, 1))
		return false;
	if (f->build->full)
		return true;
	if (f->instrs >= WAIT_INSTR_MAX || f->labels_n >= WAIT_LABELS_MAX) {
		f->build->full = true;
		return wait_build_unknown(
		    f, 1, "more codes, jumps or sequence numbers than are kept");
	}
	if (k->contour && !wait_contour_name(f->build, k) &&
	    !wait_build_unknown(f, 1, "more cycles with a contour than are followed"))
		return false;
	if (b->flags & (NC_MACRO | NC_JUMP) && !wait_build_text(f, &unless))
		return false;
	if (!words(f, b, k))
		return false;
	if (unless != WAIT_NOWHERE)
		f->instr[unless].target = (uint32_t)f->instrs;
	return true;
}

static bool nothing(const struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	return k->sequence < 0 && !k->waits && !k->calls && !k->end && !k->sub_end && !k->why &&
	       !k->contour && !b->faults && !f->build->modal && !f->build->inside &&
	       !(b->flags & (NC_JUMP | NC_MACRO | NC_UNCERTAIN | NC_CALL));
}

int wait_flow_block(struct wait_flow *f, const struct nc_block *b)
{
	struct wait_build *build = f->build;
	struct wait_look k;

	if (build->closed || (b->flags & NC_BLANK && !(b->flags & NC_UNCERTAIN) && !b->faults))
		return 0;
	if (b->flags & NC_PERCENT) {
		build->closed = build->opened || build->begun;
		build->opened = true;
		if (build->closed)
			return 0;
	}
	wait_look(&k, f->profile, b);
	build->last_line = b->line;
	build->block = b;
	build->sequence = k.sequence > INT32_MAX ? -1 : (int32_t)k.sequence;
	if (k.number && !(b->flags & NC_COLON && build->begun && !f->profile->colon_number)) {
		if (!number(f, k.number, b))
			return -1;
	} else if (k.number &&
	           !wait_build_unknown(f, k.number->col, "a colon: program number or main block")) {
		return -1;
	}
	build->begun |= !(b->flags & (NC_PERCENT | NC_BLANK));
	if (nothing(f, b, &k))
		return 0;
	return take(f, b, &k) ? 0 : -1;
}

int wait_flow_plain(
    struct wait_flow *f, int64_t first, uint32_t step, uint64_t count, uint64_t last_line)
{
	struct wait_build *build = f->build;

	if (build->closed || !count)
		return 0;
	build->begun = true;
	build->last_line = last_line;
	if (first < 0 || build->full)
		return 0;
	/* contours end at numbers, one by one */
	for (uint64_t i = 0; (build->armed || build->inside) && i < count; i++)
		wait_contour_block(build, first + (int64_t)(i * step));
	if (f->labels_n < WAIT_LABELS_MAX &&
	    !wait_label_add(f, (uint32_t)first, step, (uint32_t)count))
		return -1;
	return 0;
}

int wait_flow_sister(struct wait_flow *f, const struct wait_flow *sister)
{
	if (f->sisters == WAIT_SISTERS_MAX)
		return -1;
	f->sister[f->sisters++] = sister;
	return 0;
}

static int by_number(const void *va, const void *vb)
{
	const struct wait_entry *a = va, *b = vb;

	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return (a->unit > b->unit) - (a->unit < b->unit);
}

static bool make_index(struct wait_flow *f)
{
	f->index = calloc(f->units, sizeof *f->index);
	if (!f->index)
		return false;
	for (size_t i = 0; i < f->units; i++)
		if (f->unit[i].numbered)
			f->index[f->entries++] =
			    (struct wait_entry){f->unit[i].number, (uint32_t)i};
	qsort(f->index, f->entries, sizeof *f->index, by_number);
	return true;
}

int wait_flow_finish(
    struct wait_flow *f, struct findings *list, const char *file, int channel, bool library)
{
	struct wait_resolve r = {.f = f,
	    .list = list,
	    .file = file,
	    .channel = channel,
	    .library = library,
	    .last_line = f->build->last_line,
	    .begun = f->build->begun};
	int rc = -1;

	if (!wait_build_loops(f))
		return -1;
	f->unit[f->units - 1].end = (uint32_t)f->instrs;
	if (!wait_sister_append(f))
		return -1;
	r.reach = calloc(f->instrs + 1, 1);
	r.told = calloc(f->instrs + 1, 1);
	r.falls = calloc(f->units, sizeof *r.falls);
	f->idle = calloc(f->instrs + 1, 1);
	if (!r.reach || !r.told || !r.falls || !f->idle || !make_index(f))
		goto out;
	if (!wait_label_resolve(f) || !wait_resolve_calls(&r) || !wait_reach(&r) || !wait_idle(f))
		goto out;
	if (!wait_tell(&r) || list->failed)
		goto out;
	rc = 0;
out:
	free(r.falls);
	free(r.told);
	free(r.reach);
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
	size_t n = f->codes;

	while (n && f->code[n - 1].at.file)
		n--;
	return n;
}

const struct wait_code *wait_flow_code(const struct wait_flow *f, size_t i)
{
	return &f->code[i];
}
