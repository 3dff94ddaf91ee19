#include <stdio.h>
#include <string.h>
#include "rules.h"

static void uncertain(struct program *p, const struct nc_block *b, const struct facts *f)
{
	const struct nc_word *w = NULL;

	for (size_t i = 0; i < b->words && !w; i++) {
		uint64_t m;

		if (b->word[i].letter == 'M' && b->word[i].col >= b->uncertain_col &&
		    nc_word_whole(&b->word[i], &m) && profile_is_wait(p->profile, m))
			w = &b->word[i];
	}
	if (w)
		PROGRAM_TELL(p, WAIT_UNCERTAIN, b->line, w->col, "put the comment right",
		    "M%lld after a broken comment: whether it counts is uncertain",
		    (long long)w->mantissa);
	else if (b->flags & NC_CALL && b->call_col >= b->uncertain_col)
		PROGRAM_TELL(p, WAIT_UNCERTAIN, b->line, b->call_col, "put the comment right",
		    "%s after a broken comment: whether it counts is uncertain",
		    p->profile->wait_call);
}

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

/* A comment that is not closed may have swallowed a wait code. */
static void swallowed(struct program *p, const struct nc_block *b, uint32_t col)
{
	const char *s = b->text;

	for (size_t i = col; i + 1 < b->length; i++) {
		uint64_t m = 0;
		size_t k = i + 1;

		if ((s[i] != 'M' && s[i] != 'm') || !digit(s[k]))
			continue;
		for (; k < b->length && digit(s[k]) && m < UINT32_MAX; k++)
			m = m * 10 + (unsigned)(s[k] - '0');
		if (profile_is_wait(p->profile, m)) {
			PROGRAM_TELL(p, WAIT_UNCERTAIN, b->line, (uint32_t)i + 1,
			    "close the comment before it, or after it",
			    "M%llu inside a comment that is not closed: whether it counts is "
			    "uncertain",
			    (unsigned long long)m);
			return;
		}
	}
}

/* m201 where the machine is not known to take lower case: it may wait there, or alarm, or go on. */
static void lower_case(struct program *p, const struct nc_block *b)
{
	static const char remedy[] =
	    "write capitals, or set lower_case = yes if the machine takes them";

	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];
		uint64_t m;

		if (w->letter != 'M' || b->text[w->col - 1] != 'm' || !nc_word_whole(w, &m) ||
		    !profile_is_wait(p->profile, m))
			continue;
		PROGRAM_TELL(p, WAIT_UNCERTAIN, b->line, w->col, remedy,
		    "m%llu in lower case: whether the control takes it is uncertain",
		    (unsigned long long)m);
	}
	if (b->flags & NC_CALL && b->text[b->call_col - 1] >= 'a')
		PROGRAM_TELL(p, WAIT_UNCERTAIN, b->line, b->call_col, remedy,
		    "%s in lower case: whether the control takes it is uncertain",
		    p->profile->wait_call);
}

/* From a ; that stands outside of parentheses to the end of the block; NULL without. */
static const char *behind_note(const struct nc_block *b)
{
	const char *end = b->text + b->length;
	bool comment = false;

	if (!memchr(b->text, ';', b->length))
		return NULL;
	for (const char *s = b->text; s < end; s++) {
		if (*s == ';' && !comment)
			return s + 1;
		comment = *s == '(' ? true : *s == ')' ? false : comment;
	}
	return NULL;
}

/* One word of letter and digits at *s, blanks before it; its value when it is M. */
static bool plain_word(const char **s, const char *end, bool *is_m, uint64_t *value)
{
	const char *p = *s;
	size_t digits = 0;

	while (p < end && (*p == ' ' || *p == '/'))
		p++;
	if (p == end || *p < 'A' || *p > 'Z')
		return false;
	*is_m = *p == 'M';
	*value = 0;
	for (p++; p < end && (digit(*p) || *p == ' ' || *p == '.' || *p == '+' || *p == '-'); p++) {
		digits += digit(*p);
		if (digit(*p) && *value < UINT32_MAX)
			*value = *value * 10 + (unsigned)(*p - '0');
	}
	*s = p;
	return digits > 0;
}

/*
 * On some controls ; begins a comment, on others it ends the block. Where words stand before it,
 * and nothing but words with a wait code behind it, the second reading is not to be ruled out.
 */
static void behind_semicolon(struct program *p, const struct nc_block *b)
{
	const char *s = behind_note(b), *end = b->text + b->length;
	uint64_t value, wait = 0;
	bool is_m;

	if (!s || b->words == 0)
		return;
	while (end > s && (end[-1] == ' ' || end[-1] == ';'))
		end--;
	for (const char *at = s; at < end;) {
		if (!plain_word(&at, end, &is_m, &value))
			return;
		if (is_m && !wait && profile_is_wait(p->profile, value))
			wait = value;
	}
	if (wait)
		PROGRAM_TELL(p, WAIT_UNCERTAIN, b->line, (uint32_t)(s - b->text),
		    "write it into a block of its own, or put the comment into parentheses",
		    "M%llu behind ; : a control for which ; ends the block meets it",
		    (unsigned long long)wait);
}

/* Where the block's wait code stands. */
static uint32_t wait_col(const struct nc_block *b, const struct facts *f)
{
	return f->wait ? f->wait->col : b->call_col;
}

static void in_block(struct program *p, const struct nc_block *b, const struct facts *f)
{
	const struct nc_word *end = f->end ? f->end : p->profile->end_m99 ? f->sub_end : NULL;
	const uint32_t col = wait_col(b, f);
	char name[24];

	if (f->wait)
		snprintf(name, sizeof(name), "M%lld", (long long)f->wait->mantissa);
	else
		snprintf(name, sizeof(name), "%s", p->profile->wait_call);
	if (end)
		PROGRAM_TELL(p, WAIT_LAST_BLOCK, b->line, col,
		    "write the wait code in a block of its own before the end",
		    "%s in one block with the program end M%02lld", name, (long long)end->mantissa);
	else if (p->profile->wait_alone && !(b->flags & NC_UNCERTAIN) &&
	         (f->others > 0 || f->waits > 1 || b->flags & (NC_MACRO | NC_JUMP)))
		PROGRAM_TELL(p, WAIT_NOT_ALONE, b->line, col,
		    "write the wait code in a block of its own", "%s shares its block with %s",
		    name, f->waits > 1 ? "another wait code" : "other words");
	if (p->compensation)
		PROGRAM_TELL(p, WAIT_COMPENSATION, b->line, col,
		    "cancel the compensation with G40 before the wait code",
		    "%s while G41 or G42 is on", name);
}

static bool in_ranges(const struct profile_range *v, uint32_t n, uint64_t m)
{
	for (uint32_t i = 0; i < n; i++)
		if (m >= v[i].low && m <= v[i].high)
			return true;
	return false;
}

static unsigned digits(uint64_t m)
{
	unsigned n = 1;

	for (; m >= 10; m /= 10)
		n++;
	return n;
}

/* The machine's own table or its signals know this code. */
static bool known(const struct profile *p, uint64_t m)
{
	for (uint32_t i = 0; i < p->codes; i++)
		if (p->code[i].code == m)
			return true;
	return in_ranges(p->send, p->sends, m) || in_ranges(p->receive, p->receives, m);
}

/* An M code that stands where a wait code does, and has as many digits, but is none. Codes up to
 * M99 are the ordinary ones. */
static void out_of_range(struct program *p, const struct nc_block *b, const struct facts *f)
{
	const struct nc_word *only = NULL;
	bool alike = false;
	uint64_t m;

	if (f->waits || f->others != 1 || b->flags & (NC_MACRO | NC_JUMP))
		return;
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter == 'M')
			only = &b->word[i];
	if (!only || !nc_word_whole(only, &m) || m < 100 || known(p->profile, m))
		return;
	for (uint32_t i = 0; i < p->profile->waits; i++)
		alike |= digits(m) >= digits(p->profile->wait[i].low) &&
		         digits(m) <= digits(p->profile->wait[i].high);
	if (alike)
		PROGRAM_TELL(p, WAIT_RANGE, b->line, only->col,
		    "correct the number, or name the code in [codes] of the profile",
		    "M%llu stands alone as a wait code does, and is none of this machine's",
		    (unsigned long long)m);
}

void rules_wait_block(struct program *p, const struct nc_block *b, const struct facts *f)
{
	if (f->number || f->end)
		p->compensation = false;
	if (f->compensation)
		p->compensation = f->compensation > 0;
	if (b->flags & NC_UNCERTAIN)
		uncertain(p, b, f);
	for (size_t i = 0; i < b->faults; i++)
		if (b->fault[i].kind == NC_FAULT_OPEN)
			swallowed(p, b, b->fault[i].col);
	if (b->comment)
		behind_semicolon(p, b);
	if (f->waits && !p->profile->lower_case)
		lower_case(p, b);
	if (f->waits)
		in_block(p, b, f);
	out_of_range(p, b, f);
	p->waits += f->waits;
	if (b->words == 0 && b->flags & (NC_BLANK | NC_PERCENT))
		return;
	p->last_wait =
	    f->waits && !f->end ? (struct place){b->line, wait_col(b, f)} : (struct place){0};
}

void rules_wait_finish(struct program *p)
{
	if (p->last_wait.line)
		PROGRAM_TELL(p, WAIT_LAST_BLOCK, p->last_wait.line, p->last_wait.col,
		    "write the program end M30 behind it",
		    "a wait code stands in the last block of the file");
}
