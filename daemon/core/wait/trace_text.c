#include "trace_text.h"

#include <stdlib.h>
#include <string.h>

const struct trace_file *trace_text_here(const struct trace_text *t)
{
	return &t->file[t->f->unit[t->at.unit].file];
}

/* Where the text of an own program ends: at the next one. A sister's ends where it is seen. */
static uint64_t unit_end(const struct wait_flow *f, uint32_t unit)
{
	bool own = f->unit[unit].file == 0 && unit + 1 < f->units && f->unit[unit + 1].file == 0;

	return own ? f->unit[unit + 1].offset : UINT64_MAX;
}

static void enter(struct trace_text *t, uint32_t unit)
{
	if (unit != t->at.unit)
		t->end = unit_end(t->f, unit);
	t->at.unit = unit;
}

static void to(struct trace_text *t, uint64_t offset, uint64_t line)
{
	t->at.offset = offset;
	t->at.line = line;
	t->at.passed = TRACE_NO_BLOCK;
}

static void to_unit(struct trace_text *t, uint32_t unit)
{
	const struct wait_unit *u = &t->f->unit[unit];

	enter(t, unit);
	/* a unit that begins with the file has the line of its number, further down */
	to(t, u->offset, u->offset ? u->line : 1);
}

static void to_instr(struct trace_text *t, uint32_t instr)
{
	to(t, t->f->instr[instr].offset, t->f->instr[instr].line);
}

bool trace_text_file(
    struct trace_text *t, uint32_t file, const void *bytes, size_t n, const char *name)
{
	struct nc_cursor *c = calloc(1, sizeof(*c));

	if (!c || !nc_cursor_begin(c, bytes, n)) {
		free(c);
		return false;
	}
	nc_cursor_call(c, t->f->profile->wait_call);
	t->file[file].cursor = c;
	t->file[file].name = name;
	return true;
}

bool trace_text_begin(struct trace_text *t, const struct wait_flow *f, const void *bytes, size_t n)
{
	memset(t, 0, sizeof(*t));
	t->f = f;
	t->caller = calloc((size_t)f->profile->call_depth + 1, sizeof(*t->caller));
	if (!t->caller || !trace_text_file(t, 0, bytes, n, NULL))
		return false;
	t->end = unit_end(f, 0);
	to_unit(t, 0);
	return true;
}

void trace_text_end(struct trace_text *t)
{
	for (uint32_t i = 0; i <= WAIT_SISTERS_MAX; i++) {
		if (!t->file[i].cursor)
			continue;
		nc_cursor_end(t->file[i].cursor);
		free(t->file[i].cursor);
	}
	free(t->caller);
}

/* True when the % at hand ends the text: something stands before it, or another %. */
static bool closes(struct nc_cursor *c)
{
	uint64_t at = c->block.offset, offset = c->offset, line = c->line;

	nc_cursor_seek(c, 0, 1);
	while (nc_cursor_next(c) && c->block.flags & NC_BLANK)
		;
	if (c->block.offset < at)
		return true;
	nc_cursor_seek(c, offset, line);
	return false;
}

/* True when the block belongs to the next program of a sister. */
static bool is_beyond(const struct trace_text *t, const struct nc_block *b)
{
	const struct wait_unit *u = &t->f->unit[t->at.unit];

	return u->file && b->offset > u->offset && b->words && b->word[0].letter == 'O';
}

bool trace_text_block(struct trace_text *t, uint64_t limit)
{
	struct nc_cursor *c = trace_text_here(t)->cursor;

	if (!c || t->at.offset >= limit || t->at.offset >= t->end)
		return false;
	nc_cursor_seek(c, t->at.offset, t->at.line);
	if (!nc_cursor_next(c) || c->block.offset >= limit || c->block.offset >= t->end)
		return false;
	if (is_beyond(t, &c->block) || (c->block.flags & NC_PERCENT && closes(c)))
		return false;
	t->read++;
	t->at.offset = c->offset;
	t->at.line = c->line;
	t->at.passed = TRACE_NO_BLOCK;
	return true;
}

/* True when the block at hand is label n. */
static bool is_label(const struct nc_block *b, uint64_t n)
{
	const struct nc_word *w = nc_block_word(b, 'N');
	uint64_t value;

	return w && nc_word_whole(w, &value) && value == n;
}

/* Behind the block of an instruction. */
static void behind(struct trace_text *t, uint32_t instr)
{
	to_instr(t, instr);
	trace_text_block(t, (uint64_t)t->f->instr[instr].offset + 1);
}

/* To the block with this label, which stands in front of instruction next or is its block. */
static void to_label(struct trace_text *t, const struct wait_walk *w)
{
	const struct wait_unit *u = &t->f->unit[w->unit];
	bool runs_out = w->next >= u->end;
	uint64_t limit = runs_out ? t->end : (uint64_t)t->f->instr[w->next].offset + 1;
	struct trace_memo *m =
	    &t->memo[(w->label * 2654435761u ^ w->unit ^ w->next) % TRACE_TEXT_MEMO];
	struct trace_place before;

	if (m->used && m->label == w->label && m->next == w->next && m->at.unit == w->unit) {
		t->at = m->at;
		return;
	}
	if (w->next > u->first)
		behind(t, w->next - 1);
	else
		to_unit(t, w->unit);
	for (before = t->at; trace_text_block(t, limit); before = t->at)
		if (is_label(&trace_text_here(t)->cursor->block, w->label))
			break;
	t->at = before;
	t->at.passed = TRACE_NO_BLOCK;
	*m = (struct trace_memo){true, w->label, w->next, t->at};
}

void trace_text_follow(struct trace_text *t, const struct wait_walk *w)
{
	if (w->depth > t->depth) {
		t->caller[t->depth] = t->at;
	} else if (w->depth < t->depth) {
		enter(t, t->caller[w->depth].unit);
		t->at = t->caller[w->depth];
	}
	t->depth = w->depth;
	switch (w->move) {
	case WAIT_MOVE_LABEL:
		to_label(t, w);
		break;
	case WAIT_MOVE_PAST:
		behind(t, w->next - 1);
		break;
	case WAIT_MOVE_LOOP:
		to_instr(t, w->next);
		break;
	case WAIT_MOVE_CALL:
	case WAIT_MOVE_BEGIN:
		to_unit(t, w->unit);
		break;
	case WAIT_MOVE_ON:
	case WAIT_MOVE_SKIP:
	case WAIT_MOVE_THEN:
	case WAIT_MOVE_BACK:
		break;
	}
}
