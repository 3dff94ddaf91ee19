#include "revision.h"

#include <ctype.h>
#include <stddef.h>
#include <strings.h>

enum kind { END, DIGITS, LETTERS, OTHER };

static enum kind kind_of(char c)
{
	unsigned char u = (unsigned char)c;

	if (!u)
		return END;
	return isdigit(u) ? DIGITS : isalpha(u) ? LETTERS : OTHER;
}

static size_t run(const char *s)
{
	size_t n = 0;

	while (s[n] && kind_of(s[n]) == kind_of(*s))
		n++;
	return n;
}

bool revision_later(const char *a, const char *b)
{
	while (*a && kind_of(*a) == kind_of(*b)) {
		size_t n, m;
		int order;

		while (*a == '0' && kind_of(a[1]) == DIGITS)
			a++;
		while (*b == '0' && kind_of(b[1]) == DIGITS)
			b++;
		n = run(a);
		m = run(b);
		if (kind_of(*a) != OTHER && n != m)
			return n > m;
		order = strncasecmp(a, b, n < m ? n : m);
		if (order || n != m)
			return kind_of(*a) != OTHER && order > 0;
		a += n;
		b += m;
	}
	return *a && !*b;
}
