#include "change_front.h"

static bool digit(char c)
{
	return c >= '0' && c <= '9';
}

static void blanks(struct change_span *s)
{
	while (s->n > 0 && (*s->s == ' ' || *s->s == '\t' || *s->s == '\0' || *s->s == '\x7f')) {
		s->s++;
		s->n--;
	}
}

static void skip(struct change_span *s, size_t n)
{
	s->s += n;
	s->n -= n;
}

bool change_front_number(struct change_span *s, uint32_t *number)
{
	uint64_t n = 0;
	size_t i = 1;

	blanks(s);
	if (s->n < 2 || (*s->s != 'N' && *s->s != 'n'))
		return false;
	while (i < s->n && s->s[i] == ' ')
		i++;
	if (i == s->n || !digit(s->s[i]))
		return false;
	for (; i < s->n && digit(s->s[i]); i++)
		n = n < UINT32_MAX ? n * 10 + (uint64_t)(s->s[i] - '0') : n;
	*number = n < UINT32_MAX ? (uint32_t)n : UINT32_MAX;
	skip(s, i);
	blanks(s);
	return true;
}

void change_front_slash(struct change_span *s)
{
	blanks(s);
	if (s->n > 0 && *s->s == '/') {
		skip(s, 1);
		if (s->n > 0 && digit(*s->s))
			skip(s, 1);
		blanks(s);
	}
}
