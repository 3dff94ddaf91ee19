#include <stdlib.h>
#include <string.h>
#include "rules.h"

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

static unsigned decimal_digits(uint32_t n)
{
	unsigned d = 1;

	for (; n >= 10; n /= 10)
		d++;
	return d;
}

static bool keep_number(struct program *p, uint32_t number, struct place at)
{
	if (p->numbers_n == p->numbers_cap) {
		size_t cap = p->numbers_cap ? p->numbers_cap * 2 : 16;
		struct number_place *v = reallocarray(p->numbers, cap, sizeof(*v));

		if (!v)
			return false;
		p->numbers = v;
		p->numbers_cap = cap;
	}
	p->numbers[p->numbers_n++] = (struct number_place){number, at};
	return true;
}

static bool number_word(struct program *p, const struct nc_block *b, const struct nc_word *w)
{
	bool colon = b->flags & NC_COLON && b->text[w->col - 1] == ':';
	uint64_t n;

	if (w->flags & NC_NAME) {
		p->named |= p->state.texts == 0;
		return true;
	}
	if (!nc_word_whole(w, &n) || n > UINT32_MAX || w->digits == 0) {
		PROGRAM_TELL(p, NUMBER_RANGE, b->line, w->col,
		    "number the program within the range",
		    "the program number is not a whole number from %u to %u",
		    (unsigned)p->profile->number_min, (unsigned)p->profile->number_max);
		return true;
	}
	if (n < p->profile->number_min || n > p->profile->number_max)
		PROGRAM_TELL(p, NUMBER_RANGE, b->line, w->col,
		    "number the program within the range", "O%llu; the machine takes O%u to O%u",
		    (unsigned long long)n, (unsigned)p->profile->number_min,
		    (unsigned)p->profile->number_max);
	if (colon && !p->profile->colon_number)
		PROGRAM_TELL(p, NUMBER_FORM, b->line, w->col,
		    "write O, or set number_colon = yes if the machine takes it",
		    ":%llu is written with a colon", (unsigned long long)n);
	if (b->skip)
		PROGRAM_TELL(p, NUMBER_FORM, b->line, w->col, "remove the slash",
		    "O%llu stands in a block with a slash: with block skip on it is not read",
		    (unsigned long long)n);
	/* O0417 is how controls with four digits punch O417; more digits than those are odd. */
	if (w->digits > decimal_digits(p->profile->number_max) && n <= p->profile->number_max)
		PROGRAM_TELL(p, NUMBER_FORM, b->line, w->col, "write it without the leading zeros",
		    "O%0*llu has leading zeros beyond the machine's %u digits", (int)w->digits,
		    (unsigned long long)n, decimal_digits(p->profile->number_max));
	if (!p->number_seen && p->state.texts == 0) {
		p->number = (uint32_t)n;
		p->number_seen = true;
		p->number_at = (struct place){b->line, w->col};
	}
	return keep_number(p, (uint32_t)n, (struct place){b->line, w->col});
}

static bool ends_word(char c)
{
	return c == '\0' || c == ' ' || c == '\t' || c == '(' || c == ';';
}

/*
 * A number in which the letter O and the digit 0 changed places: OO417, O4O17, 0417 for O417. s is
 * the text from the first character on; returns its length, 0 when it is no such thing.
 */
static size_t confused(const char *s, size_t n, uint32_t *number)
{
	uint64_t value = 0;
	bool letter = false;
	size_t i = 1;

	if (n < 2 || (s[0] != 'O' && s[0] != 'o' && s[0] != '0'))
		return 0;
	for (; i < n && i < 10; i++) {
		bool o = s[i] == 'O' || s[i] == 'o';

		if (!o && !digit(s[i]))
			break;
		letter |= o;
		value = value * 10 + (o ? 0u : (unsigned)(s[i] - '0'));
	}
	if (i < 2 || !(letter || s[0] == '0') || (i < n && !ends_word(s[i])))
		return 0;
	*number = (uint32_t)value;
	return i;
}

/* The first block with text: is its number written with the wrong O or 0? */
static void number_text(struct program *p, const struct nc_block *b)
{
	size_t at = 0, n;
	uint32_t number;

	while (at < b->length && (b->text[at] == '%' || b->text[at] == ' ' || b->text[at] == '\t'))
		at++;
	n = confused(b->text + at, b->length - at, &number);
	if (n == 0)
		return;
	PROGRAM_TELL(p, NUMBER_FORM, b->line, (uint32_t)at + 1, "write the letter O, then digits",
	    "%.*s mixes the letter O and the digit 0; O%u is meant, likely", (int)n, b->text + at,
	    (unsigned)number);
	p->number = number;
	p->number_seen = true;
	p->number_at = (struct place){b->line, (uint32_t)at + 1};
}

bool rules_number_block(struct program *p, const struct nc_block *b, const struct facts *f)
{
	bool first = p->state.texts == 0 && !(b->flags & NC_BLANK);

	if (first && (b->faults > 0 || f->stray))
		number_text(p, b);
	if (!f->number || (first && p->number_seen))
		return true;
	return number_word(p, b, f->number);
}

static int by_number(const void *va, const void *vb)
{
	const struct number_place *a = va, *b = vb;

	if (a->number != b->number)
		return a->number < b->number ? -1 : 1;
	return a->at.line < b->at.line ? -1 : a->at.line > b->at.line;
}

static void doubled(struct program *p)
{
	if (p->numbers_n > 1)
		qsort(p->numbers, p->numbers_n, sizeof(*p->numbers), by_number);
	for (size_t i = 1; i < p->numbers_n; i++) {
		const struct number_place *a = &p->numbers[i - 1], *b = &p->numbers[i];

		if (a->number != b->number)
			continue;
		findings_place_also(&p->findings,
		    PROGRAM_TELL(p, NUMBER_DOUBLED, b->at.line, b->at.col,
		        "give one of them another number", "O%u stands in line %llu and again here",
		        (unsigned)b->number, (unsigned long long)a->at.line),
		    p->file, a->at.line, a->at.col);
	}
}

/* The digits of a text as a number; false when there are none or too many. */
static bool digits_of(const char *s, uint32_t *out)
{
	uint64_t n = 0;
	bool any = false;

	for (; *s; s++) {
		if (!digit(*s))
			continue;
		any = true;
		n = n * 10 + (unsigned)(*s - '0');
		if (n > UINT32_MAX)
			return false;
	}
	*out = (uint32_t)n;
	return any;
}

static void compare(struct program *p, const char *text, const char *who)
{
	uint32_t want;

	if (!digits_of(text, &want)) {
		PROGRAM_TELL(p, NUMBER_DIFFERS, p->number_at.line, p->number_at.col, "",
		    "%s '%s' has no digits to compare O%u with", who, text, (unsigned)p->number);
	} else if (want != p->number) {
		PROGRAM_TELL(p, NUMBER_DIFFERS, p->number_at.line, p->number_at.col,
		    "find out which program this is, then correct number or name",
		    "program number is O%u, %s '%s' asks for O%u", (unsigned)p->number, who, text,
		    (unsigned)want);
	}
}

void rules_number_finish(struct program *p)
{
	const struct identity *id = &p->identity;

	doubled(p);
	if (p->state.texts == 0 || p->library)
		return;
	if (!p->number_seen && p->named)
		return;
	if (!p->number_seen) {
		PROGRAM_TELL(p, NUMBER_MISSING, 0, 0,
		    "write the number, such as O4417, as first block",
		    "no program number before the first block");
		return;
	}
	if (id->name.field[PATTERN_NUMBER].given)
		compare(p, id->name.field[PATTERN_NUMBER].s, "the file name's number");
	if (id->header.field[PATTERN_NUMBER].given)
		compare(p, id->header.field[PATTERN_NUMBER].s, "the header comment's number");
	if (p->profile->number_from_job && id->job[0])
		compare(p, id->job, "job");
}
