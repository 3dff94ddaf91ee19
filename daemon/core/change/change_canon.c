#include "change_canon.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include "nc.h"

static bool filler(char c)
{
	return c == '\0' || c == '\x7f';
}

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

static bool letter(char c)
{
	return c >= 'A' && c <= 'Z';
}

static int grow(char **s, size_t *cap, size_t need)
{
	char *more;

	if (need <= *cap)
		return 0;
	more = realloc(*s, need * 2);
	if (!more)
		return -1;
	*s = more;
	*cap = need * 2;
	return 0;
}

/* Where the comment at i ends: after its ), or at n for a ; comment. 0: it is not closed. */
static size_t comment_end(const char *text, size_t i, size_t n)
{
	const char *close;

	if (text[i] == ';')
		return n;
	close = memchr(text + i, ')', n - i);
	return close ? (size_t)(close - text) + 1 : 0;
}

static char upper(char c)
{
	return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

bool change_canon_calls(const char *call, const char *from, const char *at)
{
	size_t n = call ? strlen(call) : 0;

	while (at > from && (at[-1] == ' ' || at[-1] == '\t'))
		at--;
	if (n == 0 || (size_t)(at - from) < n ||
	    ((size_t)(at - from) > n && letter(upper(at[-(ptrdiff_t)n - 1]))))
		return false;
	for (size_t i = 0; i < n; i++)
		if (upper(at[(ptrdiff_t)i - (ptrdiff_t)n]) != call[i])
			return false;
	return true;
}

/* Copy without comments and blanks, in upper case. Returns how much was written to `to`. */
static size_t strip(const char *text, size_t n, const char *call, char *to)
{
	size_t out = 0, called = 0;

	for (size_t i = 0; i < n; i++) {
		char c = text[i];

		if (c == ' ' || c == '\t')
			continue;
		if (c == '(' && change_canon_calls(call, text, text + i))
			called = comment_end(text, i, n);
		if ((c == '(' || c == ';') && i >= called) {
			size_t end = comment_end(text, i, n);

			if (end == 0) {
				memcpy(to + out, text + i, n - i);
				return out + n - i;
			}
			i = end - 1;
			continue;
		}
		to[out++] = upper(c);
	}
	return out;
}

/* The slash and the N number in front, in either order; writes "/LEVEL". Returns how much of s was
 * taken. */
static size_t front(const char *s, size_t n, char *to, size_t *out)
{
	size_t i = 0;
	bool slash = false, number = false;

	for (;;) {
		if (!slash && i < n && s[i] == '/') {
			slash = true;
			to[(*out)++] = '/';
			i++;
			to[(*out)++] = i < n && digit(s[i]) ? s[i++] : '1';
		} else if (!number && i + 1 < n && s[i] == 'N' && digit(s[i + 1])) {
			number = true;
			for (i++; i < n && digit(s[i]); i++)
				;
		} else {
			return i;
		}
	}
}

/* The number at s[i], with its sign, in its shortest spelling. Returns the place after it. */
static size_t number(const char *s, size_t i, size_t n, char *to, size_t *out)
{
	bool value = *out > 0 && letter(to[*out - 1]);
	bool counts = value && strchr("GMTOSNDHL", to[*out - 1]);
	bool minus = false, point = false;
	size_t whole, whole_end, part, part_end;

	if (s[i] == '+' || s[i] == '-')
		minus = s[i++] == '-';
	whole = i;
	while (i < n && digit(s[i]))
		i++;
	whole_end = part = part_end = i;
	if (i < n && s[i] == '.') {
		point = true;
		part = ++i;
		while (i < n && digit(s[i]))
			i++;
		part_end = i;
	}
	if (whole == whole_end && part == part_end) {
		to[(*out)++] = '.';
		return i;
	}
	while (whole < whole_end && s[whole] == '0')
		whole++;
	while (part < part_end && s[part_end - 1] == '0')
		part_end--;
	if (minus && (whole < whole_end || part < part_end))
		to[(*out)++] = '-';
	if (whole == whole_end)
		to[(*out)++] = '0';
	memcpy(to + *out, s + whole, whole_end - whole);
	*out += whole_end - whole;
	if (part < part_end || (point && !counts && whole < whole_end)) {
		to[(*out)++] = '.';
		memcpy(to + *out, s + part, part_end - part);
		*out += part_end - part;
	}
	return i;
}

static bool number_at(const char *s, size_t i, size_t n)
{
	return i < n && (digit(s[i]) || s[i] == '.');
}

int change_canon_block(struct change_canon *c, const char *text, size_t n)
{
	size_t bare, i;

	if (n >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
		text += 3;
		n -= 3;
	}
	while (n > 0 && filler(text[0])) {
		text++;
		n--;
	}
	while (n > 0 && filler(text[n - 1]))
		n--;
	if (n > NC_LINE_MAX)
		n = NC_LINE_MAX;
	c->n = 0;
	/* a lone point or ".5" grows by a digit, a slash by its level */
	if (grow(&c->bare, &c->bare_cap, n + 1) < 0 || grow(&c->s, &c->cap, 2 * n + 4) < 0)
		return -1;
	bare = strip(text, n, c->call, c->bare);
	i = front(c->bare, bare, c->s, &c->n);
	if (i + 1 < bare && c->bare[i] == ':' && digit(c->bare[i + 1])) {
		c->s[c->n++] = 'O';
		i++;
	}
	while (i < bare) {
		bool sign = (c->bare[i] == '+' || c->bare[i] == '-') && c->n > 0 &&
		            letter(c->s[c->n - 1]) && number_at(c->bare, i + 1, bare);

		if (sign || number_at(c->bare, i, bare))
			i = number(c->bare, i, bare, c->s, &c->n);
		else
			c->s[c->n++] = c->bare[i++];
	}
	return 0;
}

uint64_t change_canon_hash(const struct change_canon *c)
{
	const uint64_t k = 0x9E3779B97F4A7C15u; /* 2^64 over the golden ratio: spreads bits */
	uint64_t h = c->n * k, v;
	size_t i = 0;

	for (; i + 8 <= c->n; i += 8) {
		memcpy(&v, c->s + i, 8);
		h = (h ^ v) * k;
		h ^= h >> 29;
	}
	v = 0;
	if (i < c->n)
		memcpy(&v, c->s + i, c->n - i);
	h = (h ^ v) * k;
	h ^= h >> 32;
	h *= k;
	return h ^ h >> 29;
}

void change_canon_free(struct change_canon *c)
{
	free(c->s);
	free(c->bare);
	*c = (struct change_canon){.call = c->call};
}
