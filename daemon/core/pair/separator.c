#include <string.h>
#include "profile_value.h"
#include "separator.h"

static const char field[] = "{channel}";

static bool blank(char c)
{
	return c == ' ' || c == '\t';
}

bool separator_check(const char *pattern, struct text *why)
{
	const char *at = strstr(pattern, field);
	size_t blanks = strspn(pattern, " \t");

	if (strlen(pattern) > SEPARATOR_MAX) {
		text_printf(why, "longer than %d bytes", SEPARATOR_MAX);
		return false;
	}
	for (const char *s = pattern; *s; s++) {
		if ((unsigned char)*s < 0x20 || *s == 0x7f) {
			text_puts(why, "a control character in the pattern");
			return false;
		}
	}
	/* With nothing of its own in front, blocks of the program would be taken for separators. */
	if (!at || at == pattern + blanks || strchr(pattern, '{') != at ||
	    strpbrk(at + sizeof(field) - 1, "{}") || strchr(pattern, '}') < at) {
		text_puts(why,
		    "allowed is text with {channel} behind it, once, as the block stands "
		    "in the file: $ {channel}, or (CHANNEL {channel})");
		return false;
	}
	return true;
}

static bool in_name(char c)
{
	char u = profile_value_upper(c);

	return (u >= 'A' && u <= 'Z') || (c >= '0' && c <= '9') || (c && strchr("_-+.#", c));
}

/*
 * n bytes of pattern at *s, in any case: its blanks stand for any blanks, also none. Blanks at
 * either end are passed over. False: other text; *s is then anywhere.
 */
static bool passes(const char **s, const char *end, const char *pattern, size_t n)
{
	for (;;) {
		while (*s < end && blank(**s))
			(*s)++;
		while (n > 0 && blank(*pattern))
			pattern++, n--;
		for (; n > 0 && !blank(*pattern); pattern++, n--, (*s)++)
			if (*s == end || profile_value_upper(**s) != profile_value_upper(*pattern))
				return false;
		if (n == 0)
			break;
	}
	while (*s < end && blank(**s))
		(*s)++;
	return true;
}

/* Nothing, or comments. */
static bool ends(const char *s, const char *end)
{
	while (s < end && *s == '(') {
		s = memchr(s, ')', (size_t)(end - s));
		if (!s)
			return false;
		for (s++; s < end && blank(*s);)
			s++;
	}
	return s == end || *s == ';';
}

/* Channel by name or alias, else by number from 1. */
static int find(const struct profile *p, const char *name, size_t n)
{
	int channel = profile_channel_find(p, name, n);

	if (channel < 0 && n == 1 && *name >= '1' && *name < '1' + (int)p->channels)
		channel = *name - '1';
	return channel < 0 ? SEPARATOR_UNKNOWN : channel;
}

int separator_match(
    const struct profile *p, const char *line, size_t n, const char **name, size_t *name_n)
{
	const char *end = line + n, *at = strstr(p->separator, field);
	const char *behind, *s = line;
	size_t run = 0;

	if (!at || !passes(&s, end, p->separator, (size_t)(at - p->separator)))
		return SEPARATOR_NO;
	behind = at + sizeof(field) - 1;
	while (s + run < end && run <= YOKE_NAME_MAX && in_name(s[run]))
		run++;
	/* The name may run on into the pattern's text: the longest that leaves it whole. */
	for (; run > 0; run--) {
		const char *rest = s + run;

		if (!passes(&rest, end, behind, strlen(behind)) || !ends(rest, end))
			continue;
		*name = s;
		*name_n = run;
		return find(p, s, run);
	}
	return SEPARATOR_NO;
}
