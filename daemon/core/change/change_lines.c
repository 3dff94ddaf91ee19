#include "change_lines.h"

#include <string.h>

static bool line_end(char c)
{
	return c == '\n' || c == '\r';
}

static bool filler(char c)
{
	return c == '\0' || c == '\x7f' || c == '\x1a';
}

struct change_span change_lines_first(struct change_span span)
{
	size_t n = 0;

	while (n < span.n && !line_end(span.s[n]))
		n++;
	span.n = n;
	return span;
}

/* The next line that holds anything. False at the end. */
static bool next(struct change_span *rest, struct change_span *line)
{
	while (rest->n > 0) {
		*line = change_lines_first(*rest);
		rest->s += line->n;
		rest->n -= line->n;
		while (rest->n > 0 && line_end(rest->s[0])) {
			rest->s++;
			rest->n--;
		}
		while (line->n > 0 && filler(line->s[0])) {
			line->s++;
			line->n--;
		}
		while (
		    line->n > 0 && (filler(line->s[line->n - 1]) || line->s[line->n - 1] == ' ' ||
		                       line->s[line->n - 1] == '\t'))
			line->n--;
		if (line->n > 0)
			return true;
	}
	return false;
}

bool change_lines_same(struct change_span a, struct change_span b)
{
	struct change_span x = {0}, y = {0};

	if (a.n == b.n && (a.n == 0 || memcmp(a.s, b.s, a.n) == 0))
		return true;
	for (;;) {
		bool more = next(&a, &x);

		if (more != next(&b, &y))
			return false;
		if (!more)
			return true;
		if (x.n != y.n || memcmp(x.s, y.s, x.n) != 0)
			return false;
	}
}

bool change_lines_comment(struct change_span *rest, struct change_span *comment)
{
	for (size_t i = 0; i < rest->n; i++) {
		struct change_span line;
		const char *close;

		if (rest->s[i] != '(' && rest->s[i] != ';')
			continue;
		line = change_lines_first((struct change_span){rest->s + i, rest->n - i});
		close = rest->s[i] == '(' ? memchr(line.s, ')', line.n) : NULL;
		comment->s = line.s;
		comment->n = close ? (size_t)(close - line.s) + 1 : line.n;
		rest->s += i + comment->n;
		rest->n -= i + comment->n;
		return true;
	}
	rest->n = 0;
	return false;
}

uint64_t change_lines_count(const char *s, size_t n)
{
	uint64_t lines = 0;

	for (size_t i = 0; i < n; i++) {
		if (s[i] == '\r') {
			if (i + 1 < n && s[i + 1] == '\n')
				i++;
			else if (i + 2 < n && s[i + 1] == '\r' && s[i + 2] == '\n')
				i += 2;
			lines++;
		} else if (s[i] == '\n') {
			lines++;
		}
	}
	return lines;
}
