#include "scan.h"

#include <string.h>
#include "class.h"

#define CLASS(c) nc_class[(unsigned char)(c)]

void nc_scan_faults(
    struct nc_scan *z, enum nc_fault_kind kind, uint32_t col, uint8_t byte, size_t count)
{
	struct nc_fault *f = z->fault;
	uint32_t more = count > UINT32_MAX ? UINT32_MAX : (uint32_t)count;

	if (z->mask & 1u << kind) {
		while (f->kind != kind)
			f++;
		f->count = f->count > UINT32_MAX - more ? UINT32_MAX : f->count + more;
		return;
	}
	z->mask |= 1u << kind;
	f += z->faults++;
	f->kind = kind;
	f->col = col;
	f->byte = byte;
	f->count = more;
}

void nc_scan_fault(struct nc_scan *z, enum nc_fault_kind kind, const char *p)
{
	/* At the line's end there is no byte to name: which line end follows depends on the chunks.
	 */
	uint8_t byte = *p == '\r' || *p == '\n' ? 0 : (uint8_t)*p;

	nc_scan_faults(z, kind, (uint32_t)(p - z->s) + 1, byte, 1);
}

bool nc_scan_word(struct nc_scan *z, const char *at, char letter, unsigned flags, size_t digits,
    size_t scale, int64_t mantissa)
{
	struct nc_word *w = &z->word[z->words];

	if (z->words == NC_WORDS_MAX) {
		nc_scan_fault(z, NC_FAULT_LONG, at);
		return false;
	}
	z->words++;
	if (letter == ':') {
		letter = 'O';
		z->flags |= NC_COLON;
	}
	w->letter = letter;
	w->flags = (uint8_t)flags;
	w->scale = (uint8_t)scale;
	w->digits = (uint8_t)(digits > 255 ? 255 : digits);
	w->col = (uint32_t)(at - z->s) + 1;
	w->mantissa = mantissa;
	return true;
}

/* Past the rest of the line: nothing in it is read. */
static const char *rest(const char *p)
{
	while (CLASS(*p) != NC_C_END)
		p++;
	return p;
}

/* Bytes of the UTF-8 character at p, or 1: a lone byte counts for itself. */
static size_t character(const char *p)
{
	unsigned char c = (unsigned char)*p;
	size_t need = c >= 0xF0 && c <= 0xF4 ? 4 : c >= 0xE0 && c < 0xF0 ? 3 : c >= 0xC2 ? 2 : 1;

	if (c > 0xF4)
		return 1;
	for (size_t i = 1; i < need; i++)
		if (((unsigned char)p[i] & 0xC0) != 0x80)
			return 1;
	return need;
}

const char *nc_scan_stray(struct nc_scan *z, const char *p, enum nc_fault_kind kind)
{
	switch (CLASS(*p)) {
	case NC_C_TAB:
		nc_scan_fault(z, NC_FAULT_TAB, p);
		return p + 1;
	case NC_C_LOWER:
		nc_scan_fault(z, NC_FAULT_LOWER, p);
		return p + 1;
	case NC_C_HIGH:
		nc_scan_fault(z, kind, p);
		return p + character(p);
	default:
		nc_scan_fault(z, *p ? kind : NC_FAULT_NUL, p);
		return p + 1;
	}
}

const char *nc_scan_gap(struct nc_scan *z, const char *p)
{
	for (; *p == ' ' || *p == '\t'; p++)
		if (*p == '\t')
			nc_scan_fault(z, NC_FAULT_TAB, p);
	return p;
}

/* Remember the first comment of the block. */
static void comment(struct nc_scan *z, const char *from, const char *to)
{
	if (z->comment)
		return;
	z->comment = from;
	z->comment_length = (size_t)(to - from);
}

static void uncertain(struct nc_scan *z, const char *from)
{
	if (!(z->flags & NC_UNCERTAIN))
		z->uncertain_col = (uint32_t)(from - z->s) + 1;
	z->flags |= NC_UNCERTAIN;
}

/* Filler from p to the end of the line is no text. True when that is so. */
static bool tail(struct nc_scan *z, const char *p)
{
	const char *q = p;
	bool nul = false;

	for (; CLASS(*q) == NC_C_FILL; q++)
		nul |= *q == 0;
	if (q == p || CLASS(*q) != NC_C_END)
		return false;
	z->text_end = p;
	z->tail = (size_t)(q - p);
	if (!z->lead || nul)
		z->fill = nul ? 0 : (uint8_t)*p;
	return true;
}

/*
 * ( up to the first ), which must stand in the same line; a second ( inside is a fault (NISTIR
 * 6556, 3.3.4). What follows is then executed by some controls and not by others: it is uncertain.
 */
static const char *parenthesis(struct nc_scan *z, const char *p)
{
	const char *open = p++, *from = p;
	bool nested = false;

	for (;;) {
		unsigned char c = (unsigned char)*p;
		if (c == ')')
			break;
		if (CLASS(c) == NC_C_END || (CLASS(c) == NC_C_FILL && tail(z, p))) {
			nc_scan_fault(z, NC_FAULT_OPEN, open);
			comment(z, from, p);
			uncertain(z, open);
			return p;
		}
		if (c == '(') {
			nc_scan_fault(z, NC_FAULT_NESTED, p);
			nested = true;
		}
		if (c >= 0x7F || (c < 0x20 && c != '\t'))
			p = nc_scan_stray(z, p, NC_FAULT_CHARACTER_COMMENT);
		else
			p++;
	}
	comment(z, from, p);
	if (nested)
		uncertain(z, p + 1);
	return p + 1;
}

/* ; up to the end of the line. */
static const char *note(struct nc_scan *z, const char *p)
{
	const char *from = ++p;

	while (CLASS(*p) != NC_C_END && !(CLASS(*p) == NC_C_FILL && tail(z, p))) {
		unsigned char c = (unsigned char)*p;
		if (c >= 0x7F || (c < 0x20 && c != '\t'))
			p = nc_scan_stray(z, p, NC_FAULT_CHARACTER_COMMENT);
		else
			p++;
	}
	comment(z, from, p);
	return p;
}

/* Block skip: first in the block, or after N alone. */
static const char *slash(struct nc_scan *z, const char *p)
{
	const char *q = p + 1;

	if (z->skip || z->flags & NC_MACRO || z->words > 1 ||
	    (z->words == 1 && z->word[0].letter != 'N')) {
		nc_scan_fault(z, NC_FAULT_WORD, p);
		return q;
	}
	z->skip = 1;
	while (*q == ' ')
		q++;
	if (CLASS(*q) == NC_C_DIGIT) {
		if (*q == '0' || CLASS(q[1]) == NC_C_DIGIT) {
			nc_scan_fault(z, NC_FAULT_WORD, p);
			while (CLASS(*q) == NC_C_DIGIT)
				q++;
			return q;
		}
		z->skip = (uint8_t)(*q++ - '0');
	}
	return q;
}

/* True where a program number or name or nothing but comments follow. */
static bool number_or_end(const char *p)
{
	unsigned k;

	while (*p == ' ' || *p == '\t')
		p++;
	k = CLASS(*p);
	if (*p == ':' || nc_upper(*p) == 'O') {
		const char *q = p + 1 + strspn(p + 1, " \t");

		return CLASS(*q) == NC_C_DIGIT || (*q == '<' && *p != ':');
	}
	return k == NC_C_END || k == NC_C_OPEN || k == NC_C_NOTE || k == NC_C_FILL ||
	       k == NC_C_PERCENT;
}

/* The name of a program behind %: free text up to a comment or the end of the line. */
static const char *name(struct nc_scan *z, const char *p)
{
	for (;;) {
		switch (CLASS(*p)) {
		case NC_C_END:
		case NC_C_OPEN:
		case NC_C_NOTE:
			return p;
		case NC_C_FILL:
			if (tail(z, p))
				return rest(p);
			/* fall through */
		case NC_C_HIGH:
		case NC_C_BAD:
			p = nc_scan_stray(z, p, NC_FAULT_CHARACTER);
			break;
		default:
			/* what is left of a comment that lost its beginning */
			if (*p == ')')
				nc_scan_fault(z, NC_FAULT_WORD, p);
			p++;
		}
	}
}

/*
 * % is a line of its own; a program number and a comment may follow on it, or the program's name,
 * which is no block (ISO 6983-1: identification up to the first end of block).
 */
static const char *percent(struct nc_scan *z, const char *p)
{
	for (const char *q = z->s; q < p; q++) {
		if (CLASS(*q) != NC_C_BLANK && CLASS(*q) != NC_C_TAB) {
			nc_scan_fault(z, NC_FAULT_WORD, p);
			return p + 1;
		}
	}
	z->flags |= NC_PERCENT;
	return number_or_end(p + 1) ? p + 1 : name(z, p + 1);
}

static const char *comma(struct nc_scan *z, const char *p)
{
	const char *q = p + 1;
	char c;

	while (*q == ' ')
		q++;
	c = nc_upper(*q);
	if (c < 'A' || c > 'Z') {
		nc_scan_fault(z, NC_FAULT_WORD, p);
		return p + 1;
	}
	if (c != *q)
		nc_scan_fault(z, NC_FAULT_LOWER, q);
	return nc_value_word(z, q, c, NC_COMMA);
}

/* Digits, points and signs where a word should begin: one fault for the whole. */
static const char *orphan(struct nc_scan *z, const char *p)
{
	nc_scan_fault(z, NC_FAULT_WORD, p);
	do
		p++;
	while (CLASS(*p) == NC_C_DIGIT || CLASS(*p) == NC_C_POINT || CLASS(*p) == NC_C_ODD);
	return p;
}

/* Whatever is not an upper-case letter, a blank or the end. */
static const char *other(struct nc_scan *z, const char *p)
{
	const char *after;

	switch (CLASS(*p)) {
	case NC_C_LOWER:
		nc_scan_fault(z, NC_FAULT_LOWER, p);
		return nc_value_word(z, p, nc_upper(*p), 0);
	case NC_C_OPEN:
		return parenthesis(z, p);
	case NC_C_NOTE:
		return note(z, p);
	case NC_C_SLASH:
		return slash(z, p);
	case NC_C_PERCENT:
		return percent(z, p);
	case NC_C_HASH:
		return nc_macro_setting(z, p);
	case NC_C_COMMA:
		return comma(z, p);
	case NC_C_ODD:
	case NC_C_DIGIT:
	case NC_C_POINT:
		return orphan(z, p);
	case NC_C_FILL:
		if (tail(z, p))
			return rest(p);
		/* fall through */
	default:
		after = *p == '<' ? nc_name_called(z, p) : NULL;
		return after ? after : nc_scan_stray(z, p, NC_FAULT_CHARACTER);
	}
}

/* NUL and DEL before the text. */
static const char *lead(struct nc_scan *z, const char *s)
{
	const char *p = s;
	bool nul = false;

	while (*p == 0 || *p == 0x7F)
		nul |= *p++ == 0;
	z->lead = (size_t)(p - s);
	z->fill = nul ? 0 : 0x7F;
	return p;
}

/*
 * The common word: a letter, a sign, up to 18 digits, a point. Everything else about it goes the
 * slow way, which reads the same word again from its letter.
 */
static inline const char *word(struct nc_scan *z, const char *p)
{
	const char *q = p + 1, *d;
	uint64_t m = 0;
	size_t digits, scale = 0;
	unsigned flags = 0, x;
	bool negative = *q == '-';

	if (negative || *q == '+') {
		flags = NC_SIGN;
		q++;
	}
	for (d = q; (x = (unsigned char)*q - (unsigned)'0') < 10; q++)
		m = m * 10 + x;
	digits = (size_t)(q - d);
	if (*q == '.') {
		flags |= NC_POINT;
		for (d = ++q; (x = (unsigned char)*q - (unsigned)'0') < 10; q++)
			m = m * 10 + x;
		scale = (size_t)(q - d);
		digits += scale;
	}
	while (*q == ' ')
		q++;
	if (__builtin_expect(digits - 1 >= 18 || CLASS(*q) >= NC_C_DIGIT, 0))
		return nc_value_word(z, p, *p, 0);
	if (!nc_scan_word(z, p, *p, flags, digits, scale, negative ? -(int64_t)m : (int64_t)m))
		return rest(q);
	return q;
}

const char *nc_scan_line(struct nc_scan *z, const char *s)
{
	const char *p = s;

	memset(z, 0, offsetof(struct nc_scan, word));
	if (CLASS(*p) == NC_C_FILL)
		p = lead(z, p);
	z->s = p;
	for (;;) {
		unsigned k = CLASS(*p);
		if (__builtin_expect(k == NC_C_LETTER, 1))
			p = word(z, p);
		else if (k == NC_C_BLANK)
			p++;
		else if (k == NC_C_END)
			break;
		else
			p = other(z, p);
	}
	if (!z->text_end)
		z->text_end = p;
	return p;
}

void nc_scan_block(const struct nc_scan *z, struct nc_block *b)
{
	const uint32_t dirt = 1u << NC_FAULT_CHARACTER | 1u << NC_FAULT_NUL |
	                      1u << NC_FAULT_NUMBER | 1u << NC_FAULT_WORD | 1u << NC_FAULT_LONG;
	const uint32_t told = NC_PERCENT | NC_MACRO | NC_JUMP | NC_CALL;
	bool blank = !z->words && !z->skip && !(z->flags & told) && !(z->mask & dirt);

	b->flags = z->flags | (blank ? NC_BLANK : 0);
	b->skip = z->skip;
	b->uncertain_col = z->uncertain_col;
	b->text = z->s;
	b->length = (size_t)(z->text_end - z->s);
	b->word = z->word;
	b->words = z->words;
	b->call = z->call;
	b->call_length = z->call_length;
	b->call_col = z->call_col;
	b->name_col = z->name_col;
	b->comment = z->comment;
	b->comment_length = z->comment_length;
	b->fault = z->fault;
	b->faults = z->faults;
}
