/* A block becomes instructions, in the order in which a control does what it says. */
#include <stdlib.h>
#include <string.h>
#include "build.h"

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

bool wait_build_lost(struct wait_flow *f, uint32_t i, const char *why)
{
	uint32_t text = wait_build_why(f, why);

	if (text == WAIT_NOWHERE)
		return false;
	f->instr[i].op = WAIT_OP_UNKNOWN;
	f->instr[i].a = text;
	return true;
}

bool wait_build_unknown(struct wait_flow *f, uint32_t col, const char *why)
{
	return wait_build_add(f, WAIT_OP_UNKNOWN, col) &&
	       wait_build_lost(f, (uint32_t)f->instrs - 1, why);
}

bool wait_build_over(struct wait_flow *f)
{
	f->unit[f->units - 1].end = (uint32_t)f->instrs;
	return wait_build_loops(f) && wait_contour_over(f);
}

/* A program number or name: the first one belongs to the main program, each later one begins
 * another. False without memory. */
static bool number(struct wait_flow *f, const struct nc_word *w, const struct nc_block *b)
{
	struct wait_unit *u = &f->unit[f->units - 1];
	bool name = (w->flags & NC_NAME) != 0;
	uint64_t value = 0;

	if (!name && (!nc_word_whole(w, &value) || value > UINT32_MAX))
		return true;
	if (u->numbered || u->name) {
		if (!wait_build_over(f))
			return false;
		if (f->units == WAIT_UNITS_MAX) {
			f->build->full = f->build->closed = true;
			f->never = WAIT_MAINS;
			return true;
		}
		u = wait_build_room(f->unit, f->units, &f->units_cap, sizeof *u);
		if (!u)
			return false;
		f->unit = u;
		u += f->units++;
		*u = (struct wait_unit){.first = (uint32_t)f->instrs,
		    .label = (uint32_t)f->labels_n,
		    .offset = b->offset > UINT32_MAX ? UINT32_MAX : (uint32_t)b->offset};
	}
	if (name) {
		u->name = wait_build_name(b, w);
		if (!u->name)
			return false;
	}
	u->number = (uint32_t)value;
	u->numbered = !name;
	u->line = b->line;
	return true;
}

/* The block's text for expressions: what stands in comments, or may, is blank. */
static void plain_text(struct wait_build *b)
{
	const struct nc_block *block = b->block;
	size_t n = block->length < sizeof b->text ? block->length : sizeof b->text;
	size_t word = block->flags & NC_CALL ? block->call_col - 1 : n;
	bool comment = false;

	if (block->flags & NC_UNCERTAIN && block->uncertain_col - 1 < n)
		n = block->uncertain_col - 1;
	b->length = n;
	for (size_t i = 0; i < n; i++) {
		char c = block->text[i];
		bool call = i >= word && ((c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'));

		if (i > word && c == '(')
			word = n;
		if (c == ';' && !comment) {
			b->length = i;
			return;
		}
		comment |= c == '(';
		b->text[i] = comment || call ? ' ' : c;
		comment &= c != ')';
	}
}

static bool faulty(const struct nc_block *b)
{
	for (size_t i = 0; i < b->faults; i++) {
		enum nc_fault_kind kind = b->fault[i].kind;

		if (kind == NC_FAULT_NUMBER || kind == NC_FAULT_WORD || kind == NC_FAULT_NUL ||
		    kind == NC_FAULT_LONG)
			return true;
	}
	return false;
}

/* What a modal call would be made behind, or is ended by. */
static bool modal(struct wait_flow *f, const struct wait_look *k)
{
	struct wait_instr *i;

	if ((!k->moves && !k->may_move && !k->cancels) || k->macro)
		return true;
	if (!f->build->modal) {
		f->unit[f->units - 1].bare = (uint32_t)f->instrs + 1;
		return true;
	}
	if (k->cancels && !wait_build_add(f, WAIT_OP_CANCEL, 1))
		return false;
	if (!k->moves && !k->may_move)
		return true;
	i = wait_build_add(f, WAIT_OP_MOVE, 1);
	if (i && k->may_move)
		i->target = WAIT_COMPUTED;
	return i != NULL;
}

/* Codes, doubts, call, end. */
static bool words(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	bool sets;
	const char *why = wait_build_doubt(f->profile, b, &sets);

	if (sets && !wait_build_forget(f, 1))
		return false;
	if (k->macro && (k->waits || k->call || k->end || k->sub_end))
		return wait_build_unknown(f, 1, "a macro call with M codes as its arguments");
	/* codes whose order is not known are not met in the order of the text */
	if (k->unsure && !wait_build_unknown(f, 1, k->why))
		return false;
	if (!wait_build_codes(f, k))
		return false;
	if (why && !wait_build_unknown(f, 1, why))
		return false;
	if (k->why && !k->unsure && !wait_build_unknown(f, 1, k->why))
		return false;
	if (k->calls && !k->why && !wait_build_call(f, k))
		return false;
	if (!modal(f, k))
		return false;
	return (!k->end && !k->sub_end) || wait_build_end(f, k);
}

/* True where the block leaves nothing. */
static bool nothing(const struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	return !k->col && !k->why && !k->contour && !b->faults && !f->build->modal &&
	       !(b->flags & (NC_JUMP | NC_MACRO | NC_UNCERTAIN));
}

static bool take(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	uint32_t unless = WAIT_NOWHERE;

	f->build->set = 0;
	if (f->instrs >= WAIT_INSTR_MAX) {
		f->build->full = f->build->closed = true;
		return wait_build_unknown(f, 1, WAIT_FULL);
	}
	if (k->contour && !wait_contour_name(f, k))
		return false;
	if (b->flags & (NC_MACRO | NC_JUMP)) {
		plain_text(f->build);
		f->build->faulty = faulty(b);
		if (!wait_build_text(f, k->col, &unless))
			return false;
	}
	if (!words(f, b, k))
		return false;
	if (unless != WAIT_NOWHERE)
		f->instr[unless].target = (uint32_t)f->instrs;
	return true;
}

bool wait_build_block(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	struct wait_build *build = f->build;

	build->block = b;
	build->sequence = k->sequence > INT32_MAX ? -1 : (int32_t)k->sequence;
	if (k->number && !(b->flags & NC_COLON && build->begun && !f->profile->colon_number)) {
		if (!number(f, k->number, b))
			return false;
	} else if (k->number && !wait_build_unknown(
	                            f, k->number->col, "a colon: program number or main block")) {
		return false;
	}
	build->begun |= !(b->flags & (NC_PERCENT | NC_BLANK));
	if (build->closed)
		return true;
	wait_contour_block(build, k->sequence);
	if (k->sequence >= 0 && k->sequence < WAIT_TWICE &&
	    !wait_label_add(f, (uint32_t)k->sequence, 0, 1, b->skip))
		return false;
	if (nothing(f, b, k))
		return modal(f, k);
	return take(f, b, k);
}
