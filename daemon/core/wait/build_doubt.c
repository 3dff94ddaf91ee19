/* What cannot be read, and may be something that matters. */
#include <string.h>
#include <strings.h>
#include "build.h"

struct piece {
	const struct profile *profile;
	const char *s;
	size_t n;
};

static size_t past_blanks(const struct piece *p, size_t i)
{
	while (i < p->n && (p->s[i] == ' ' || p->s[i] == '\t'))
		i++;
	return i;
}

static bool starts(const struct piece *p, size_t i, const char *word)
{
	size_t n = strlen(word);

	return n && p->n - i >= n && strncasecmp(p->s + i, word, n) == 0;
}

/* True when one of these characters stands behind the n letters at i. */
static bool followed(const struct piece *p, size_t i, size_t n, const char *by)
{
	size_t k = past_blanks(p, i + n);

	return k < p->n && p->s[k] && strchr(by, p->s[k]);
}

#define DIGITS "0123456789"

/* A word of control flow, as it must look to be one: comments hold DO and IF as well. */
static bool jump(const struct piece *p, size_t i)
{
	return starts(p, i, "GOTO") || (starts(p, i, "IF") && followed(p, i, 2, "[")) ||
	       (starts(p, i, "WHILE") && followed(p, i, 5, "[")) ||
	       (starts(p, i, "DO") && followed(p, i, 2, DIGITS)) ||
	       (starts(p, i, "END") && followed(p, i, 3, DIGITS));
}

/* An M with a number, a macro call, a wait written as a call. */
static bool code(const struct piece *p, size_t i)
{
	const char *call = p->profile->wait_call;
	size_t k = past_blanks(p, i + 1);

	if (starts(p, i, "M") && followed(p, i, 1, DIGITS "#["))
		return true;
	if (starts(p, i, "G") && k + 1 < p->n && p->s[k] == '6')
		return true;
	return starts(p, i, call) && followed(p, i, strlen(call), "(");
}

/* True when the text holds something that could matter. */
static bool could_matter(const struct profile *profile, const char *s, size_t n)
{
	struct piece p = {profile, s, n};

	for (size_t i = 0; i < n; i++)
		if (code(&p, i) || jump(&p, i))
			return true;
	return false;
}

static bool could_set(const char *s, size_t n)
{
	const char *hash = memchr(s, '#', n);

	return hash && memchr(hash, '=', n - (size_t)(hash - s));
}

const char *wait_build_doubt(const struct profile *profile, const struct nc_block *b, bool *sets)
{
	*sets = false;
	if (b->flags & NC_UNCERTAIN && b->uncertain_col - 1 < b->length) {
		const char *rest = b->text + b->uncertain_col - 1;
		size_t n = b->length - (b->uncertain_col - 1);

		*sets = could_set(rest, n);
		if (could_matter(profile, rest, n))
			return "a comment that is nested or not closed may hide a code";
	}
	for (size_t i = 0; i < b->faults; i++) {
		enum nc_fault_kind kind = b->fault[i].kind;

		if (kind == NC_FAULT_LONG)
			return "the block was not read to its end";
		if ((kind == NC_FAULT_NUMBER || kind == NC_FAULT_WORD || kind == NC_FAULT_NUL) &&
		    could_matter(profile, b->text, b->length))
			return "a block with codes or jumps that cannot be read";
	}
	return NULL;
}
