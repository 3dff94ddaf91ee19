#include <string.h>
#include "rules.h"

enum { LISTED = 8 }; /* characters of a line that are listed one by one */

static bool more_of(const struct program *p, enum finding_id id)
{
	return p->findings.seen[id] < FINDINGS_KEEP;
}

static size_t utf8_length(const char *s, size_t n)
{
	unsigned char c = (unsigned char)*s;
	size_t need = c >= 0xf0 && c <= 0xf4 ? 4 : c >= 0xe0 && c < 0xf0 ? 3 : c >= 0xc2 ? 2 : 1;

	if (c > 0xf4 || need > n)
		return 1;
	for (size_t i = 1; i < need; i++)
		if (((unsigned char)s[i] & 0xc0) != 0x80)
			return 1;
	return need;
}

static bool plain(char c)
{
	return (c >= 0x20 && c < 0x7f) || c == '\t';
}

/* List the characters that are not plain ASCII, inside comments or outside: bytes and offset of
 * each. */
static void list_characters(struct text *t, const struct nc_block *b, bool in_comment)
{
	bool comment = false, note = false;
	unsigned found = 0;

	for (size_t i = 0; i < b->length;) {
		size_t n = utf8_length(b->text + i, b->length - i);
		char c = b->text[i];

		if (c == '(' && !comment)
			comment = true;
		else if (c == ')' && !note)
			comment = false;
		else if (c == ';' && !comment)
			comment = note = true;
		if (!plain(c) && c != 0 && comment == in_comment && ++found <= LISTED) {
			text_puts(t, found == 1 ? ": " : ", ");
			for (size_t k = 0; k < n; k++)
				text_printf(t, "%02X ", (unsigned)(unsigned char)b->text[i + k]);
			text_printf(t, "at offset %llu", (unsigned long long)(b->offset + i));
		}
		i += n;
	}
	if (found > LISTED)
		text_printf(t, " and %u more", found - LISTED);
}

static void character(struct program *p, const struct nc_block *b, const struct nc_fault *f)
{
	bool in_comment = f->kind == NC_FAULT_CHARACTER_COMMENT;
	enum finding_id id = in_comment ? FINDING_CHARACTER_COMMENT : FINDING_CHARACTER;
	struct finding_place at = {-1, p->file, b->line, f->col};
	struct text t = {0};

	if (more_of(p, id)) {
		if (f->byte > 0x20 && f->byte < 0x7f)
			text_printf(&t, "character %c, %02X at offset %llu", f->byte,
			    (unsigned)f->byte, (unsigned long long)(b->offset + f->col - 1));
		else
			text_printf(&t, "%u character%s that %s not plain ASCII",
			    (unsigned)f->count, f->count > 1 ? "s" : "",
			    f->count > 1 ? "are" : "is");
		if (f->byte <= 0x20 || f->byte >= 0x7f)
			list_characters(&t, b, in_comment);
	}
	findings_add(&p->findings, p->profile->weight, id, &at,
	    in_comment ? "write it in plain letters" : "correct it, or fetch the original again",
	    "%s", t.s ? t.s : "");
	p->findings.failed |= t.failed;
	text_free(&t);
}

static void bad_text(struct program *p, const struct nc_block *b, const struct nc_fault *f)
{
	bool number = f->kind == NC_FAULT_NUMBER;
	enum finding_id id = number ? FINDING_NUMBER_BAD : FINDING_WORD_BAD;
	struct finding_place at = {-1, p->file, b->line, f->col};
	size_t from = f->col > 0 ? f->col - 1 : 0, n = 0;
	struct text t = {0};

	if (more_of(p, id)) {
		while (from + n < b->length && n < 16 && b->text[from + n] != ' ')
			n++;
		text_visible(&t, b->text + from, n);
	}
	findings_add(&p->findings, p->profile->weight, id, &at,
	    "correct it, or fetch the original again", "%s: %s",
	    number ? "not a number" : "neither word, number nor expression", t.s ? t.s : "");
	p->findings.failed |= t.failed;
	text_free(&t);
}

static void fault(struct program *p, const struct nc_block *b, const struct nc_fault *f)
{
	unsigned long long offset = b->offset + (f->col ? f->col - 1 : 0);

	switch (f->kind) {
	case NC_FAULT_CHARACTER:
	case NC_FAULT_CHARACTER_COMMENT:
		character(p, b, f);
		break;
	case NC_FAULT_LOWER:
		if (!p->profile->lower_case)
			PROGRAM_TELL(p, LOWER_CASE, b->line, f->col, "write capitals",
			    "%u lower-case letter%s, %02X at offset %llu", (unsigned)f->count,
			    f->count > 1 ? "s, the first" : "", (unsigned)f->byte, offset);
		break;
	case NC_FAULT_TAB:
		PROGRAM_TELL(p, TAB, b->line, f->col, "write a blank",
		    "%u tab%s, 09 at offset %llu", (unsigned)f->count,
		    f->count > 1 ? "s, the first" : "", offset);
		break;
	case NC_FAULT_NUL:
		PROGRAM_TELL(p, NUL_INSIDE, b->line, f->col, "fetch the original again",
		    "%u NUL byte%s inside the program, %s00 at offset %llu: damaged",
		    (unsigned)f->count, f->count > 1 ? "s" : "", f->count > 1 ? "the first, " : "",
		    offset);
		break;
	case NC_FAULT_NESTED:
		PROGRAM_TELL(p, COMMENT_NESTED, b->line, f->col, "write the comment without it",
		    "a second ( inside a comment; the first ) closes the comment");
		break;
	case NC_FAULT_OPEN:
		PROGRAM_TELL(p, COMMENT_OPEN, b->line, f->col, "close it with )",
		    "comment not closed in its block");
		break;
	case NC_FAULT_NUMBER:
	case NC_FAULT_WORD:
		bad_text(p, b, f);
		break;
	case NC_FAULT_LONG:
		PROGRAM_TELL(p, BLOCK_LONG, b->line, f->col, "split the block",
		    "more than %d bytes or %d words in one block: the rest was not read",
		    NC_LINE_MAX, NC_WORDS_MAX);
		break;
	}
}

static void sequence(struct program *p, const struct nc_block *b)
{
	const struct nc_word *n = &b->word[0];
	uint64_t value;

	if (b->words == 0 || n->letter != 'N')
		return;
	if (!nc_word_whole(n, &value) || n->flags & (NC_POINT | NC_SIGN))
		PROGRAM_TELL(p, SEQUENCE, b->line, n->col,
		    "see whether a line end was lost; N takes digits only",
		    "sequence number is not a whole number without point and sign");
	else if (value > p->profile->sequence_max)
		PROGRAM_TELL(p, SEQUENCE, b->line, n->col,
		    "number the program again, in smaller steps",
		    "N%llu; the machine takes up to N%u", (unsigned long long)value,
		    (unsigned)p->profile->sequence_max);
}

void rules_text_block(struct program *p, const struct nc_block *b)
{
	bool long_told = false;

	for (size_t i = 0; i < b->faults; i++) {
		fault(p, b, &b->fault[i]);
		long_told |= b->fault[i].kind == NC_FAULT_LONG;
	}
	if (b->length > p->profile->block_max && !long_told)
		PROGRAM_TELL(p, BLOCK_LONG, b->line, p->profile->block_max + 1, "split the block",
		    "block of %zu characters; the machine takes %u", b->length,
		    (unsigned)p->profile->block_max);
	sequence(p, b);
}
