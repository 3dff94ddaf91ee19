#include <stdio.h>
#include "rules.h"

static void section_begins(struct file_state *s, const struct nc_word *number, uint64_t line)
{
	uint64_t n = 0;

	(void)nc_word_whole(number, &n);
	s->sub = s->section_line != 0 || s->any_end_line != 0;
	s->section = (uint32_t)n;
	s->section_line = line;
	s->section_ended = false;
}

void rules_file_block(struct program *p, const struct nc_block *b, const struct facts *f)
{
	struct file_state *s = &p->state;
	bool m99_ends = p->profile->end_m99 && !s->sub;
	const struct nc_word *end = f->end ? f->end : m99_ends ? f->sub_end : NULL;

	if (b->flags & NC_PERCENT) {
		if (s->open_line || s->texts > 0)
			s->close_line = b->line;
		else
			s->open_line = b->line;
	}
	if (f->number)
		section_begins(s, f->number, b->line);
	if ((b->flags & NC_BLANK && b->words == 0) || (b->flags & NC_PERCENT && b->words == 0))
		return;
	if (s->end.line && !s->sub && s->after_end++ == 0)
		s->first_after_end = b->line;
	s->texts++;
	s->last_line = b->line;
	s->jumps |= (b->flags & NC_JUMP) != 0 || f->local_call;
	if (f->end)
		s->any_end_line = b->line;
	if (end || f->sub_end)
		s->section_ended = true;
	if (end && !s->sub && !s->end.line && b->skip == 0)
		s->end = (struct place){b->line, end->col};
}

void rules_file_after_close(struct program *p, const struct nc_block *b)
{
	if (!(b->flags & (NC_BLANK | NC_PERCENT)) || b->words > 0)
		p->state.after_close++;
}

bool rules_file_framing(struct program *p)
{
	const struct nc_shape *h = &p->shape;

	/* A tenth with bit 8 set: plain text has none, and parity sets it in about half. */
	if (h->bytes == 0 || h->odd_parity || h->high < (h->bytes + 9) / 10)
		return false;
	PROGRAM_TELL(p, FRAMING_7E, 0, 0,
	    "set the port to 7 bits with even parity (7E1 or 7E2) and read it again",
	    "every byte has even parity: framing is 7E, the port was 8N1");
	return true;
}

static void noise(struct program *p)
{
	const struct nc_shape *h = &p->shape;

	if (h->bytes >= 16 && h->high > h->bytes / 4 && h->odd_parity)
		PROGRAM_TELL(p, CHARACTER, 0, 0,
		    "check speed, framing and cable, and read it again",
		    "%llu of %llu bytes have bit 8 set, with mixed parity: noise or wrong speed",
		    (unsigned long long)h->high, (unsigned long long)h->bytes);
}

bool rules_file_cut_off(const struct program *p)
{
	const struct file_state *s = &p->state;

	return s->open_line && !s->close_line && s->texts > 0 && !s->section_ended;
}

static void percent(struct program *p)
{
	const struct file_state *s = &p->state;
	char remedy[120];

	if (rules_file_cut_off(p)) {
		snprintf(remedy, sizeof(remedy),
		    "write the file out again; line %llu is the last%s",
		    (unsigned long long)s->last_line,
		    p->shape.final_line_end ? "" : " and has no line end");
		if (s->sub)
			PROGRAM_TELL(p, CUT_OFF, s->last_line, 0, remedy,
			    "opened with %% at line %llu, no closing %%, no end of subprogram O%u "
			    "(line %llu): file looks cut off",
			    (unsigned long long)s->open_line, (unsigned)s->section,
			    (unsigned long long)s->section_line);
		else
			PROGRAM_TELL(p, CUT_OFF, s->last_line, 0, remedy,
			    "opened with %% at line %llu, no closing %%, no M30: file looks cut "
			    "off",
			    (unsigned long long)s->open_line);
	} else if (s->open_line && !s->close_line) {
		PROGRAM_TELL(p, PERCENT_MISSING, s->last_line, 0, "write a % as the last line",
		    "opened with %% at line %llu, no closing %%", (unsigned long long)s->open_line);
	} else if (!s->open_line) {
		PROGRAM_TELL(p, PERCENT_MISSING, 1, 0, "write a % as the first and last line",
		    s->close_line ? "no opening %%" : "neither opening nor closing %%");
	}
	if (s->after_close > 0)
		PROGRAM_TELL(p, PERCENT_MIDDLE, s->close_line, 0,
		    !s->open_line && !s->any_end_line
		        ? "remove what stands before it if the program begins here, or remove the %"
		        : "remove the % or what follows it; the control stops reading here",
		    "%% in the middle: %llu block%s it", (unsigned long long)s->after_close,
		    s->after_close > 1 ? "s follow" : " follows");
}

static bool nearly_all(uint64_t part, uint64_t whole)
{
	return whole > 0 && part >= whole - whole / 10;
}

/* On some controls CR alone ends a block, on others it is passed over: two lines are one block. */
static void cr_alone(struct program *p)
{
	const struct nc_shape *h = &p->shape;

	if (h->cr_alone > 0 && h->lf + h->crlf + h->crcrlf > 0)
		PROGRAM_TELL(p, CHARACTER, 0, 0,
		    "write the file out again, with one kind of line end",
		    "%llu line%s in CR alone among lines that end in LF: some controls read such a "
		    "line and the next as one block",
		    (unsigned long long)h->cr_alone, h->cr_alone > 1 ? "s end" : " ends");
}

static void line_ends(struct program *p)
{
	const struct nc_shape *h = &p->shape;
	uint64_t ends = h->lf + h->crlf + h->cr + h->crcrlf;
	/* Gaps between lines with text; one less than there may be, as a blank line may end the
	 * file. */
	uint64_t gaps = h->lines > h->blank_between + 2 ? h->lines - h->blank_between - 2 : 0;
	unsigned kinds = (h->lf > 0) + (h->crlf > 0) + (h->cr > 0) + (h->crcrlf > 0);
	static const char remedy[] =
	    "fetch the original again, in binary; this is no edit by a person";

	if (ends >= 3 && nearly_all(h->crcrlf, ends)) {
		PROGRAM_TELL(p, LINE_ENDS_DOUBLED, 0, 0, remedy,
		    "doubled line ends, likely text-mode transfer: %llu of %llu lines end in CR CR "
		    "LF",
		    (unsigned long long)h->crcrlf, (unsigned long long)ends);
	} else if (gaps >= 3 && nearly_all(h->blank_between, gaps)) {
		PROGRAM_TELL(p, LINE_ENDS_DOUBLED, 0, 0, remedy,
		    "doubled line ends, likely text-mode transfer: %llu of %llu lines are blank",
		    (unsigned long long)h->blank_between, (unsigned long long)h->lines);
	} else if (kinds > 1) {
		PROGRAM_TELL(p, LINE_ENDS_MIXED, 0, 0, "write the file out again, with one kind",
		    "line ends mixed: LF %llu, CR LF %llu, CR %llu, CR CR LF %llu",
		    (unsigned long long)h->lf, (unsigned long long)h->crlf,
		    (unsigned long long)h->cr, (unsigned long long)h->crcrlf);
	}
}

void rules_file_finish(struct program *p)
{
	const struct file_state *s = &p->state;

	if (p->shape.bom)
		PROGRAM_TELL(p, BYTE_ORDER_MARK, 1, 1, "save the file without it",
		    "byte-order mark EF BB BF at offset 0");
	if (p->shape.bytes > p->profile->size_max)
		PROGRAM_TELL(p, SIZE, 0, 0, "split it, or raise size_max if the machine takes more",
		    "%llu bytes; the machine takes %llu", (unsigned long long)p->shape.bytes,
		    (unsigned long long)p->profile->size_max);
	noise(p);
	cr_alone(p);
	line_ends(p);
	if (s->texts == 0) {
		PROGRAM_TELL(p, EMPTY, 0, 0, "drop the program again", "no block in the file");
		return;
	}
	percent(p);
	if (s->after_end > 0 && !s->jumps)
		PROGRAM_TELL(p, TEXT_AFTER_END, s->first_after_end, 0,
		    "remove them, or see whether the end stands in the right place",
		    s->after_end == 1
		        ? "%llu block follows the program end in line %llu and is not executed"
		        : "%llu blocks follow the program end in line %llu and are not executed",
		    (unsigned long long)s->after_end, (unsigned long long)s->end.line);
}
