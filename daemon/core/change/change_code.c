#include "change_code.h"

#include <string.h>
#include "change_words.h"

#define NO_CODE UINT64_MAX

/* The whole number behind the letter, NO_CODE when there is none. */
static uint64_t code(const struct change_word *w)
{
	uint64_t v = 0;

	if (w->n < 2 || w->n > 12)
		return NO_CODE;
	for (size_t i = 1; i < w->n; i++) {
		if (w->s[i] == '.' && i > 1)
			return v; /* G54.1 is of the family of G54 */
		if (w->s[i] < '0' || w->s[i] > '9')
			return NO_CODE;
		v = v * 10 + (uint64_t)(w->s[i] - '0');
	}
	return v;
}

static bool has(const struct change_block *b, char letter, uint64_t low, uint64_t high)
{
	for (size_t i = 0; i < b->words; i++) {
		uint64_t v = code(&b->word[i]);

		if (b->word[i].letter == letter && v >= low && v <= high)
			return true;
	}
	return false;
}

static bool any_letter(const struct change_block *b, const char *letters)
{
	for (size_t i = 0; i < b->words; i++)
		if (strchr(letters, b->word[i].letter))
			return true;
	return false;
}

/* G92 is a thread cycle on many lathes: only with S, or without any dimension in F's company, is it
 * something else. */
static bool sets(const struct change_block *b)
{
	return has(b, 'G', 50, 50) || (has(b, 'G', 92, 92) && !any_letter(b, "F"));
}

static bool within(const struct profile_range *v, uint32_t n, uint64_t code)
{
	for (uint32_t i = 0; i < n; i++)
		if (code >= v[i].low && code <= v[i].high)
			return true;
	return false;
}

/* A code at which a channel waits, or for which another one waits. */
static bool is_wait(const struct profile *p, uint64_t m)
{
	return profile_is_wait(p, m) || within(p->send, p->sends, m) ||
	       within(p->receive, p->receives, m);
}

static bool waits(const struct profile *p, const struct change_block *b)
{
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter == 'M' && is_wait(p, code(&b->word[i])))
			return true;
	return false;
}

void change_code_context(const struct profile *p, const struct change_block *a,
    const struct change_block *b, struct change_code_context *out)
{
	const struct change_block *both[] = {a, b};

	memset(out, 0, sizeof(*out));
	for (int i = 0; i < 2; i++) {
		bool speed = sets(both[i]) && any_letter(both[i], "S");

		out->call |= has(both[i], 'M', 98, 99) || has(both[i], 'G', 65, 67);
		out->wait |= p->partners != PROFILE_PARTNERS_ALL && waits(p, both[i]);
		out->dwell |= has(both[i], 'G', 4, 4);
		out->zero |= has(both[i], 'G', 54, 59);
		out->limit |= speed;
		out->offset |= has(both[i], 'G', 10, 10) || has(both[i], 'G', 52, 52) ||
		               (sets(both[i]) && !speed);
	}
}

static enum change_kind of_m(const struct profile *p, const struct change_word *w)
{
	uint64_t m = code(w);

	if (m == NO_CODE)
		return CHANGE_CODE;
	if (is_wait(p, m))
		return CHANGE_WAIT;
	switch (m) {
	case 0:
	case 1:
	case 2:
	case 30:
		return CHANGE_STOP;
	case 3:
	case 4:
	case 5:
		return CHANGE_SPEED;
	case 6:
		return CHANGE_TOOL;
	case 98:
	case 99:
		return CHANGE_FLOW;
	default:
		return CHANGE_CODE;
	}
}

static enum change_kind of_g(const struct change_code_context *c, const struct change_word *w)
{
	static const struct {
		uint8_t low, high;
		enum change_kind kind;
	} table[] = {
	    {0, 3, CHANGE_MOTION},        /* rapid, feed, arcs */
	    {10, 10, CHANGE_WORK_OFFSET}, /* offsets set by program */
	    {17, 21, CHANGE_MOTION},      /* plane, inch or millimetre */
	    {28, 30, CHANGE_MOTION},      /* return to reference */
	    {32, 36, CHANGE_MOTION},      /* threads */
	    {40, 44, CHANGE_OFFSET},      /* compensation */
	    {49, 49, CHANGE_OFFSET},
	    {52, 52, CHANGE_WORK_OFFSET},
	    {53, 53, CHANGE_MOTION},
	    {54, 59, CHANGE_WORK_OFFSET},
	    {65, 67, CHANGE_FLOW},
	    {70, 76, CHANGE_MOTION}, /* turning cycles */
	    {80, 91, CHANGE_MOTION}, /* drilling cycles, absolute or incremental */
	    {93, 95, CHANGE_FEED},
	    {96, 97, CHANGE_SPEED},
	    {98, 99, CHANGE_FEED},
	};
	uint64_t g = code(w);

	if (g == 50 || g == 92)
		return c->limit ? CHANGE_SPEED : c->offset ? CHANGE_WORK_OFFSET : CHANGE_MOTION;
	for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++)
		if (g >= table[i].low && g <= table[i].high)
			return table[i].kind;
	return CHANGE_CODE;
}

static enum change_kind of_dimension(const struct change_code_context *c)
{
	if (c->dwell)
		return CHANGE_CODE;
	return c->offset ? CHANGE_WORK_OFFSET : CHANGE_MOTION;
}

enum change_kind change_code_kind(
    const struct profile *p, const struct change_code_context *context, const struct change_word *w)
{
	if (w->flow)
		return CHANGE_FLOW;
	if (context->wait && w->letter == p->partners_letter)
		return CHANGE_WAIT;
	switch (w->letter) {
	case '(':
		return CHANGE_WAIT;
	case '/':
		return CHANGE_SKIP;
	case '%':
		return CHANGE_STOP;
	case 'M':
		return of_m(p, w);
	case 'G':
		return of_g(context, w);
	case 'T':
		return CHANGE_TOOL;
	case 'D':
	case 'H':
		return CHANGE_OFFSET;
	case 'S':
		return CHANGE_SPEED;
	case 'F':
	case 'E':
		return CHANGE_FEED;
	case 'O':
		return CHANGE_NUMBER;
	case 'P':
	case 'L':
		if (context->call)
			return CHANGE_FLOW;
		return context->zero && w->letter == 'P' ? CHANGE_WORK_OFFSET
		                                         : of_dimension(context);
	case 'N':
	case '?':
		return CHANGE_CODE;
	default:
		return of_dimension(context);
	}
}

bool change_code_offset(
    const struct profile *p, const struct change_word *a, const struct change_word *b)
{
	if (a->letter != 'T' || b->letter != 'T' || a->n != b->n || code(a) == NO_CODE ||
	    code(b) == NO_CODE)
		return false;
	for (uint32_t i = 0; i < p->channels; i++) {
		size_t digits = p->channel[i].offset_digits;

		if (digits > 0 && a->n > 1 + digits && memcmp(a->s, b->s, a->n - digits) == 0)
			return true;
	}
	return false;
}

static unsigned group_of_g(uint64_t g)
{
	static const struct {
		uint8_t low, high, group;
	} table[] = {
	    {0, 3, 1},    /* motion */
	    {17, 19, 2},  /* plane */
	    {20, 21, 3},  /* units */
	    {32, 36, 1},  /* threads */
	    {40, 42, 4},  /* cutter radius */
	    {43, 44, 5},  /* tool length */
	    {49, 49, 5},  /* its end */
	    {54, 59, 6},  /* zero point */
	    {80, 89, 1},  /* drilling cycles */
	    {90, 91, 7},  /* absolute, incremental */
	    {93, 95, 8},  /* feed */
	    {96, 97, 9},  /* speed */
	    {98, 99, 10}, /* return level, or feed */
	};

	for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++)
		if (g >= table[i].low && g <= table[i].high)
			return table[i].group;
	return CHANGE_CODE_FREE;
}

unsigned change_code_group(const struct profile *p, const struct change_word *w)
{
	uint64_t n = code(w);

	if (w->letter == 'G')
		return group_of_g(n);
	if (w->letter != 'M')
		return 32u + (unsigned char)w->letter;
	if (is_wait(p, n))
		return 16;
	if (n >= 3 && n <= 5)
		return 17;
	if (n >= 7 && n <= 9)
		return 18;
	return n < 3 || n == 30 || n == 98 || n == 99 ? 19 : CHANGE_CODE_FREE;
}
