#include <string.h>
#include "profile_value.h"
#include "profile_wait.h"

/* A code that a channel waits at must not be one that stops, ends or calls (ISO 6983-1; M98, M99:
 * common practice). */
static bool is_free(struct profile_range r, struct text *why)
{
	static const uint32_t taken[] = {0, 1, 2, 30, 98, 99};

	for (size_t i = 0; i < sizeof(taken) / sizeof(*taken); i++) {
		if (r.low <= taken[i] && taken[i] <= r.high) {
			text_printf(why, "M%02u stops, ends or calls and cannot be a wait code",
			    (unsigned)taken[i]);
			return false;
		}
	}
	return true;
}

/* A list of codes; false with a line in why. */
static bool read_codes(const char *value, struct profile_range *v, uint32_t *n, struct text *why)
{
	struct profile_range range[PROFILE_RANGES_MAX], r;
	uint32_t k = 0;
	int got;

	while ((got = profile_value_range(&value, 'M', PROFILE_VALUE_CODE_MAX, &r, why)) > 0) {
		if (k == PROFILE_RANGES_MAX) {
			text_printf(why, "more than %d ranges", PROFILE_RANGES_MAX);
			return false;
		}
		if (!is_free(r, why))
			return false;
		if (profile_value_overlap(range, k, r)) {
			text_printf(why, "M%u-M%u overlaps a range before it", (unsigned)r.low,
			    (unsigned)r.high);
			return false;
		}
		range[k++] = r;
	}
	if (got < 0)
		return false;
	if (k > 0)
		memcpy(v, range, k * sizeof(*range));
	*n = k;
	return true;
}

bool profile_wait_codes(struct profile *p, const char *value, struct text *why)
{
	if (strcmp(value, "none") == 0) {
		p->waits = 0;
		return true;
	}
	if (value[strspn(value, " \t,")] == '\0') {
		text_puts(why, "no wait code; allowed are M codes and ranges, such as M200-M299, "
		               "M310, or none");
		return false;
	}
	return read_codes(value, p->wait, &p->waits, why);
}

bool profile_wait_send(struct profile *p, const char *value, struct text *why)
{
	return read_codes(value, p->send, &p->sends, why);
}

bool profile_wait_receive(struct profile *p, const char *value, struct text *why)
{
	return read_codes(value, p->receive, &p->receives, why);
}

/* The letters that say something else in the same block. */
static bool letter_free(char c)
{
	return c >= 'A' && c <= 'Z' && !strchr("GMNO", c);
}

bool profile_wait_partners(struct profile *p, const char *value, struct text *why)
{
	char letter = profile_value_upper(value[0]);
	const char *form = value + (letter ? 1 : 0);
	enum profile_partners partners;

	if (strcmp(value, "all") == 0) {
		p->partners = PROFILE_PARTNERS_ALL;
		return true;
	}
	form += strspn(form, " \t");
	partners = strcmp(form, "digits") == 0 ? PROFILE_PARTNERS_DIGITS : PROFILE_PARTNERS_MASK;
	if (!letter_free(letter) || form == value + 1 ||
	    (partners == PROFILE_PARTNERS_MASK && strcmp(form, "mask") != 0)) {
		text_puts(why, "allowed are all, or a letter other than G M N O and how its number "
		               "names the channels: P digits (P13: channels 1 and 3) or P mask "
		               "(P5: bits 0 and 2, channels 1 and 3)");
		return false;
	}
	p->partners = partners;
	p->partners_letter = letter;
	return true;
}

/* Words of conditions and loops: a wait cannot be called so. */
static bool word_free(const char *word)
{
	static const char *const taken[] = {"IF", "GOTO", "THEN", "WHILE", "DO", "END", "EQ", "NE",
	    "GT", "GE", "LT", "LE", "AND", "OR", "XOR", "NOT", "MOD"};

	for (size_t i = 0; i < sizeof(taken) / sizeof(*taken); i++)
		if (strcmp(word, taken[i]) == 0)
			return false;
	return true;
}

/* The text between blanks at either end and the next comma or parenthesis: is it word? */
static bool argument_is(const char *s, size_t n, const char *word)
{
	while (n > 0 && (*s == ' ' || *s == '\t'))
		s++, n--;
	while (n > 0 && (s[n - 1] == ' ' || s[n - 1] == '\t'))
		n--;
	return n == strlen(word) && memcmp(s, word, n) == 0;
}

/* What stands between the parentheses, n bytes: the place of {code}, -1 when it cannot be read. */
static int code_place(const char *s, size_t n)
{
	const char *comma = memchr(s, ',', n);
	size_t first = comma ? (size_t)(comma - s) : n;
	const char *rest = comma ? comma + 1 : NULL;
	size_t second = comma ? n - first - 1 : 0;

	if (argument_is(s, first, "{code}") && (!rest || argument_is(rest, second, "{channels}")))
		return 0;
	if (rest && argument_is(s, first, "{channels}") && argument_is(rest, second, "{code}"))
		return 1;
	return -1;
}

bool profile_wait_call(struct profile *p, const char *value, struct text *why)
{
	char word[PROFILE_CALL_MAX + 1] = "";
	size_t n = 0, end = strlen(value);
	const char *inside;
	int place = -1;

	if (end == 0) {
		p->wait_call[0] = '\0';
		p->wait_call_code = 0;
		return true;
	}
	for (char c;
	     n < PROFILE_CALL_MAX && (c = profile_value_upper(value[n])) >= 'A' && c <= 'Z';)
		word[n++] = c;
	inside = value + n + strspn(value + n, " \t");
	if (n >= 2 && *inside == '(' && value[end - 1] == ')')
		place = code_place(inside + 1, (size_t)(value + end - 1 - (inside + 1)));
	if (place < 0 || !word_free(word)) {
		text_printf(why,
		    "allowed is a word of 2 to %d letters, none of conditions and "
		    "loops, with the code and, if they are named, the channels in "
		    "parentheses: MEET({code},{channels})",
		    PROFILE_CALL_MAX);
		return false;
	}
	memcpy(p->wait_call, word, sizeof(word));
	p->wait_call_code = (uint32_t)place;
	return true;
}

bool profile_wait_alone(struct profile *p, const char *value, struct text *why)
{
	return profile_value_bool(value, &p->wait_alone, why);
}

bool profile_wait_skip(struct profile *p, const char *value, struct text *why)
{
	return profile_value_choice(value, "common", "separate", &p->skip_separate, why);
}

static uint64_t count(const struct profile_range *v, uint32_t n)
{
	uint64_t sum = 0;

	for (uint32_t i = 0; i < n; i++)
		sum += (uint64_t)v[i].high - v[i].low + 1;
	return sum;
}

/* No code may mean two things. */
static bool apart(const char *name, const struct profile_range *v, uint32_t n, const char *other,
    const struct profile_range *w, uint32_t m, struct text *why)
{
	for (uint32_t i = 0; i < n; i++) {
		struct profile_range r = v[i];

		if (!profile_value_overlap(w, m, r))
			continue;
		text_printf(why, "M%u", (unsigned)r.low);
		if (r.high > r.low)
			text_printf(why, "-M%u", (unsigned)r.high);
		text_printf(why,
		    " of %s and %s in [wait] have codes in common; a code means one "
		    "thing",
		    name, other);
		return false;
	}
	return true;
}

bool profile_wait_fit(const struct profile *p, struct text *why)
{
	uint64_t sends = count(p->send, p->sends), receives = count(p->receive, p->receives);

	if (sends != receives) {
		text_printf(why,
		    "send has %llu code%s and receive %llu; each code of send signals the code at "
		    "the same place of receive",
		    (unsigned long long)sends, sends == 1 ? "" : "s", (unsigned long long)receives);
		return false;
	}
	if (p->waits == 0 && sends == 0 && !*p->wait_call) {
		text_puts(why, "codes = none, and neither call nor send and receive are set in "
		               "[wait]: the machine would have no way to wait");
		return false;
	}
	return apart("send", p->send, p->sends, "codes", p->wait, p->waits, why) &&
	       apart("receive", p->receive, p->receives, "codes", p->wait, p->waits, why) &&
	       apart("send", p->send, p->sends, "receive", p->receive, p->receives, why);
}
