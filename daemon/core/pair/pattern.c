#include <stdint.h>
#include <string.h>
#include "pattern.h"

static const char *const field_name[PATTERN_FIELDS] = {
    [PATTERN_JOB] = "job",
    [PATTERN_REV] = "rev",
    [PATTERN_CHANNEL] = "channel",
    [PATTERN_NUMBER] = "number",
};

static const char allowed[] = "allowed are {job}, {rev}, {channel} and {number}, each at most once";

/* A pattern, or one word of it, taken apart: literal[0] field[0] literal[1] ... field[k-1]
 * literal[k]. */
struct parts {
	struct pattern_value literal[PATTERN_FIELDS + 1];
	enum pattern_field field[PATTERN_FIELDS];
	size_t fields;
};

static char upper(char c)
{
	return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

static bool same(const char *a, const char *b, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (upper(a[i]) != upper(b[i]))
			return false;
	return true;
}

static int find_field(const char *s, size_t n)
{
	for (int i = 0; i < PATTERN_FIELDS; i++)
		if (strlen(field_name[i]) == n && memcmp(field_name[i], s, n) == 0)
			return i;
	return -1;
}

/* False when the braces do not hold: the checks below tell why, the matchers just do not match. */
static bool split(struct parts *p, const char *s, size_t n)
{
	const char *end = s + n;
	unsigned seen = 0;

	*p = (struct parts){0};
	for (;;) {
		const char *open = memchr(s, '{', (size_t)(end - s));

		p->literal[p->fields] =
		    (struct pattern_value){s, (size_t)((open ? open : end) - s)};
		if (!open)
			return true;
		const char *close = memchr(open, '}', (size_t)(end - open));
		int field = close ? find_field(open + 1, (size_t)(close - open - 1)) : -1;

		if (field < 0 || seen & 1u << field)
			return false;
		if (p->fields > 0 && p->literal[p->fields].n == 0)
			return false;
		seen |= 1u << field;
		p->field[p->fields++] = (enum pattern_field)field;
		s = close + 1;
	}
}

/* The last place in s where lit stands, at least one byte from either end; or NULL. */
static const char *find_last(const char *s, size_t n, struct pattern_value lit)
{
	if (n < lit.n + 2)
		return NULL;
	for (size_t i = n - lit.n - 1; i >= 1; i--)
		if (same(s + i, lit.s, lit.n))
			return s + i;
	return NULL;
}

/*
 * Match the whole of s. Each literal is taken at its last possible place, from the right: that
 * leaves the most room to those before it, so no choice ever has to be taken back.
 */
static bool match_parts(const struct parts *p, const char *s, size_t n, struct pattern_match *m)
{
	struct pattern_value first = p->literal[0], last = p->literal[p->fields];

	if (p->fields == 0)
		return n == first.n && same(s, first.s, n);
	if (n < first.n + last.n + 1 || !same(s, first.s, first.n) ||
	    !same(s + n - last.n, last.s, last.n))
		return false;
	s += first.n;
	n -= first.n + last.n;
	for (size_t k = p->fields; k-- > 1;) {
		struct pattern_value lit = p->literal[k];
		const char *at = find_last(s, n, lit);

		if (!at)
			return false;
		m->field[p->field[k]] =
		    (struct pattern_value){at + lit.n, n - (size_t)(at - s) - lit.n};
		n = (size_t)(at - s);
	}
	m->field[p->field[0]] = (struct pattern_value){s, n};
	return true;
}

bool pattern_name(const char *pattern, const char *path, struct pattern_match *m)
{
	const char *slash = strrchr(path, '/');
	const char *name = slash ? slash + 1 : path;
	struct parts p;

	*m = (struct pattern_match){0};
	if (!split(&p, pattern, strlen(pattern)))
		return false;
	if (match_parts(&p, name, strlen(name), m))
		return true;
	*m = (struct pattern_match){0};
	return false;
}

static bool separates(char c)
{
	return c == ' ' || c == '\t' || c == ',' || c == ';' || c == ':' || c == '=';
}

/* Cut the next word off *s; false when there is none. */
static bool next_word(const char **s, const char *end, struct pattern_value *word)
{
	while (*s < end && separates(**s))
		(*s)++;
	word->s = *s;
	while (*s < end && !separates(**s))
		(*s)++;
	word->n = (size_t)(*s - word->s);
	return word->n > 0;
}

/* The words of a pattern, against as many words of the text from here on; *after is where the text
 * goes on. */
static bool match_words(const char *pat, const char *pat_end, const char *text,
    const char *text_end, struct pattern_match *m, const char **after)
{
	struct pattern_value want, have;
	struct parts p;

	*m = (struct pattern_match){0};
	while (next_word(&pat, pat_end, &want)) {
		if (!next_word(&text, text_end, &have) || !split(&p, want.s, want.n) ||
		    !match_parts(&p, have.s, have.n, m))
			return false;
	}
	*after = text;
	return true;
}

bool pattern_header(const char *pattern, const char *comment, size_t n, struct pattern_match *m)
{
	const char *pat_end = pattern + strlen(pattern), *end = comment + n, *after;
	struct pattern_value word;
	bool from_start = *pattern == '(';
	bool to_end = pat_end > pattern + from_start && pat_end[-1] == ')';

	pattern += from_start;
	pat_end -= to_end;
	while (n > 0) {
		if (match_words(pattern, pat_end, comment, end, m, &after) &&
		    (!to_end || !next_word(&after, end, &word)))
			return true;
		if (from_start || !next_word(&comment, end, &word) || comment == end)
			break;
	}
	*m = (struct pattern_match){0};
	return false;
}

/* How many letters a word begins with. */
static size_t letters(struct pattern_value w)
{
	size_t n = 0;

	while (n < w.n && upper(w.s[n]) >= 'A' && upper(w.s[n]) <= 'Z')
		n++;
	return n;
}

bool pattern_header_like(const char *pattern, const char *comment, size_t n)
{
	const char *end = pattern + strlen(pattern);
	struct pattern_value own, word;

	pattern += *pattern == '(';
	end -= end > pattern && end[-1] == ')';
	while (next_word(&pattern, end, &own)) {
		size_t k = letters(own);
		const char *s = comment;

		if (k < 2)
			continue;
		if (!comment)
			return true;
		while (next_word(&s, comment + n, &word))
			if (letters(word) == k && same(word.s, own.s, k))
				return true;
	}
	return false;
}

/* One placeholder of a pattern under check, at its {. Returns where the text goes on, or NULL. */
static const char *check_field(const char *open, unsigned *seen, struct text *why)
{
	const char *close = strpbrk(open + 1, "{}");

	if (!close || *close == '{') {
		text_printf(why, "a { without its }; %s", allowed);
		return NULL;
	}
	int field = find_field(open + 1, (size_t)(close - open - 1));

	if (field < 0) {
		text_puts(why, "unknown placeholder ");
		text_visible(why, open, (size_t)(close - open + 1));
		text_printf(why, "; %s", allowed);
		return NULL;
	}
	if (*seen & 1u << field) {
		text_printf(why, "{%s} stands twice; %s", field_name[field], allowed);
		return NULL;
	}
	if (close[1] == '{') {
		text_puts(why, "two placeholders without text between them cannot be told apart");
		return NULL;
	}
	*seen |= 1u << field;
	return close + 1;
}

static bool check(const char *pattern, struct text *why)
{
	unsigned seen = 0;

	if (strlen(pattern) > PATTERN_MAX) {
		text_printf(why, "longer than %d bytes", PATTERN_MAX);
		return false;
	}
	for (const char *s = pattern; *s;) {
		if ((unsigned char)*s < 0x20 || *s == 0x7f) {
			text_puts(why, "a control character in the pattern");
			return false;
		}
		if (*s == '}') {
			text_printf(why, "a } without its {; %s", allowed);
			return false;
		}
		if (*s != '{') {
			s++;
			continue;
		}
		s = check_field(s, &seen, why);
		if (!s)
			return false;
	}
	if (!seen) {
		text_printf(why, "no placeholder in the pattern; %s", allowed);
		return false;
	}
	return true;
}

bool pattern_check_name(const char *pattern, struct text *why)
{
	if (strchr(pattern, '/')) {
		text_puts(why,
		    "a / in the pattern; it is matched against the file's name without its folder");
		return false;
	}
	return check(pattern, why);
}

bool pattern_check_header(const char *pattern, struct text *why)
{
	size_t n = strlen(pattern);

	for (size_t i = 0; i < n; i++) {
		if ((pattern[i] == '(' && i > 0) || (pattern[i] == ')' && i + 1 < n)) {
			text_puts(why, "parentheses belong around the whole pattern: they are "
			               "those of the comment");
			return false;
		}
	}
	return check(pattern, why);
}
