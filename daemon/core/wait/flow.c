#include "flow.h"

#include <stdlib.h>
#include <string.h>

struct wait_flow *wait_flow_new(const struct profile *profile)
{
	struct wait_flow *f = calloc(1, sizeof *f);

	if (!f)
		return NULL;
	f->unit = calloc(1, sizeof *f->unit);
	if (!f->unit) {
		free(f);
		return NULL;
	}
	f->units = f->units_cap = 1;
	f->profile = profile;
	f->sequence_max = -1;
	return f;
}

void wait_flow_free(struct wait_flow *f)
{
	if (!f)
		return;
	free(f->event);
	free(f->unit);
	free(f->code);
	free(f->label);
	free(f);
}

/*
 * The array v with room for one more element of size: v itself, or v moved, or NULL, and then v
 * stays as it is. Indices are kept in 32 bits.
 */
static void *room(void *v, size_t n, size_t *cap, size_t size)
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

struct wait_event *wait_flow_add(
    struct wait_flow *f, enum wait_event_kind kind, uint8_t skip, const struct wait_place *at)
{
	struct wait_event *e = room(f->event, f->events, &f->events_cap, sizeof *e);

	if (!e)
		return NULL;
	f->event = e;
	e += f->events++;
	memset(e, 0, sizeof *e);
	e->kind = (uint8_t)kind;
	e->skip = skip;
	e->at = *at;
	return e;
}

static bool unknown(struct wait_flow *f, uint8_t skip, const struct wait_place *at, const char *why)
{
	struct wait_event *e = wait_flow_add(f, WAIT_EVENT_UNKNOWN, skip, at);

	if (e)
		e->why = why;
	return e != NULL;
}

/* A program number: the first one names the main program, each later one begins another. */
static bool number(struct wait_flow *f, const struct nc_word *w, uint64_t line)
{
	struct wait_unit *u = &f->unit[f->units - 1];
	uint64_t value;

	if (!nc_word_whole(w, &value) || value > UINT32_MAX)
		return true;
	if (u->numbered) {
		u->end = f->events;
		u = room(f->unit, f->units, &f->units_cap, sizeof *u);
		if (!u)
			return false;
		f->unit = u;
		u += f->units++;
		memset(u, 0, sizeof *u);
		u->first = f->events;
		f->pendings = 0;
		wait_contour_begin(f);
		f->sequence_max = -1;
	}
	u->number = (uint32_t)value;
	u->numbered = true;
	u->line = line;
	return true;
}

static bool add_codes(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	for (size_t i = 0; i < k->words; i++) {
		const struct nc_word *w = &b->word[i];
		struct wait_place at = {b->line, w->col, k->sequence};
		struct wait_code *code;
		struct wait_event *e;
		uint32_t m;

		if (!wait_look_is_code(f->profile, w, &m))
			continue;
		code = room(f->code, f->codes, &f->codes_cap, sizeof *code);
		if (!code)
			return false;
		f->code = code;
		e = wait_flow_add(
		    f, f->inside ? WAIT_EVENT_UNKNOWN : WAIT_EVENT_CODE, b->skip, &at);
		if (!e)
			return false;
		e->target = (uint32_t)f->codes;
		e->why = "a wait code inside the contour of a cycle: whether and how often it "
		         "counts is not known";
		f->code[f->codes++] = (struct wait_code){m, b->skip, at};
	}
	return true;
}

/* M98 or G65, G66: P names the program, L the repeats (common practice: both common control
 * families). */
static bool add_call(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	const struct nc_word *w = k->call ? k->call : k->macro;
	struct wait_place at = {b->line, w->col, k->sequence};
	uint64_t target, repeat = 1;
	struct wait_event *e;

	if (k->calls > 1)
		return unknown(f, b->skip, &at, "more than one call in a block");
	if (!k->p || !nc_word_whole(k->p, &target) || target > UINT32_MAX)
		return unknown(f, b->skip, &at,
		    k->p ? "the number of the called program is computed" : "a call without P");
	if (k->l && (!nc_word_whole(k->l, &repeat) || repeat == 0 || repeat > UINT32_MAX))
		return unknown(f, b->skip, &at, "the repeats of a call are computed, or 0");
	e = wait_flow_add(
	    f, k->call && !f->inside ? WAIT_EVENT_CALL : WAIT_EVENT_MACRO, b->skip, &at);
	if (!e)
		return false;
	e->target = (uint32_t)target;
	e->repeat = (uint32_t)repeat;
	e->why = f->inside ? "a call inside the contour of a cycle"
	                   : "a macro call (G65, G66) of a program with wait codes or calls";
	return true;
}

/* M99, M02, M30. */
static bool add_end(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	const struct nc_word *w = k->end ? k->end : k->sub_end;
	struct wait_place at = {b->line, w->col, k->sequence};

	if (k->end)
		return wait_flow_add(f, WAIT_EVENT_END, b->skip, &at) != NULL;
	if (!k->p && !k->l)
		return wait_flow_add(f, WAIT_EVENT_RETURN, b->skip, &at) != NULL;
	if (!unknown(f, b->skip, &at, k->p ? "M99 with P: a jump" : "M99 with L"))
		return false;
	f->event[f->events - 1].ends = true;
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

/* Condition, codes, doubts, call, end: in the order in which a block does them. */
static bool take(struct wait_flow *f, const struct nc_block *b, const struct wait_look *k)
{
	struct wait_place at = {b->line, 1, k->sequence};
	const char *why = doubt(b);
	bool jump = (b->flags & NC_JUMP) != 0;

	wait_contour_block(f, k->sequence);
	if (k->sequence >= 0 && !wait_jump_label(f, k->sequence))
		return false;
	if (k->contour && !wait_contour_name(f, k) &&
	    !unknown(f, b->skip, &at, "more cycles with a contour than are followed"))
		return false;
	if (jump && !wait_jump_block(f, b, &at))
		return false;
	if (k->macro && (k->waits || k->call || k->end || k->sub_end))
		return unknown(f, b->skip, &at, "a macro call with M codes as its arguments");
	/* codes whose order is not known are not met in the order of the text */
	if (k->waits > 1 && !unknown(f, b->skip, &at, k->why))
		return false;
	if (k->waits && !add_codes(f, b, k))
		return false;
	if (why && !unknown(f, b->skip, &at, why))
		return false;
	if (k->why && k->waits < 2 && !unknown(f, b->skip, &at, k->why))
		return false;
	if (k->calls && !k->why && !add_call(f, b, k))
		return false;
	return (!k->end && !k->sub_end) || add_end(f, b, k);
}

int wait_flow_block(struct wait_flow *f, const struct nc_block *b)
{
	struct wait_look k;
	struct wait_place at = {.sequence = -1};

	if (f->closed || (b->flags & NC_BLANK && !(b->flags & NC_UNCERTAIN) && !b->faults))
		return 0;
	if (b->flags & NC_PERCENT) {
		f->closed = f->opened || f->begun;
		f->opened = true;
		if (f->closed)
			return 0;
	}
	wait_look(&k, f->profile, b);
	f->last_line = b->line;
	if (k.number && !(b->flags & NC_COLON && f->begun && !f->profile->colon_number)) {
		if (!number(f, k.number, b->line))
			return -1;
	} else if (k.number) {
		at.line = b->line;
		at.col = k.number->col;
		if (!unknown(f, b->skip, &at, "a colon: program number or main block"))
			return -1;
	}
	f->begun |= !(b->flags & (NC_PERCENT | NC_BLANK));
	if (k.sequence < 0 && !k.waits && !k.calls && !k.end && !k.sub_end && !k.why &&
	    !k.contour && !b->faults && !(b->flags & (NC_JUMP | NC_UNCERTAIN)))
		return 0;
	return take(f, b, &k) ? 0 : -1;
}

int wait_flow_plain(
    struct wait_flow *f, int64_t first, uint32_t step, uint64_t count, uint64_t last_line)
{
	if (f->closed || !count)
		return 0;
	f->begun = true;
	f->last_line = last_line;
	for (uint64_t i = 0; first >= 0 && i < count; i++) {
		int64_t sequence = first + (int64_t)(i * step);

		wait_contour_block(f, sequence);
		if (!wait_jump_label(f, sequence))
			return -1;
	}
	return 0;
}

int wait_flow_finish(struct wait_flow *f, struct findings *list, const char *file, int channel)
{
	f->unit[f->units - 1].end = f->events;
	if (!wait_call_resolve(f, list, file, channel) || list->failed)
		return -1;
	return 0;
}

uint32_t wait_flow_skips(const struct wait_flow *f)
{
	return f->skips;
}

size_t wait_flow_codes(const struct wait_flow *f)
{
	return f->codes;
}

const struct wait_code *wait_flow_code(const struct wait_flow *f, size_t i)
{
	return &f->code[i];
}
