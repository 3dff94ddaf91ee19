#include "route.h"

#include <string.h>

static const struct {
	const char *method, *path;
} routes[API_COUNT] = {
#define X(id, m, p, duty) [API_##id] = {m, p},
    API_LIST(X)
#undef X
};

static int hex(char c)
{
	if (c >= '0' && c <= '9')
		return c - '0';
	c |= 0x20;
	return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

/* UTF-8 by the well-formed table of the Unicode standard (table 3-7), without C0, C1 and DEL. */
static int plain_text(const unsigned char *s)
{
	while (*s) {
		unsigned low = 0x80, high = 0xbf;
		int more;

		if (*s < 0x20 || *s == 0x7f)
			return 0;
		if (*s < 0x80) {
			s++;
			continue;
		}
		if (*s < 0xc2 || *s > 0xf4)
			return 0;
		more = *s < 0xe0 ? 1 : *s < 0xf0 ? 2 : 3;
		if (*s == 0xe0 || *s == 0xc2)
			low = 0xa0; /* overlong; C1 controls */
		else if (*s == 0xf0)
			low = 0x90;
		else if (*s == 0xed)
			high = 0x9f;
		else if (*s == 0xf4)
			high = 0x8f;
		for (s++; more > 0; more--, s++) {
			if (*s < low || *s > high)
				return 0;
			low = 0x80;
			high = 0xbf;
		}
	}
	return 1;
}

int route_decode(const char *s, size_t n, int plus, char *out, size_t max)
{
	size_t length = 0;

	for (size_t i = 0; i < n; i++) {
		char c = s[i];

		if (c == '%') {
			int whole = n - i > 2, high = whole ? hex(s[i + 1]) : -1,
			    low = whole ? hex(s[i + 2]) : -1;

			if (high < 0 || low < 0)
				return -1;
			c = (char)(high * 16 + low);
			i += 2;
		} else if (plus && c == '+') {
			c = ' ';
		}
		if (!c || length == max)
			return -1;
		out[length++] = c;
	}
	out[length] = '\0';
	return plain_text((const unsigned char *)out) ? 0 : -1;
}

/* 1: the path has this form, values taken; 0: not; -1: a value is no text. */
static int match(const char *form, const char *path, struct route *out)
{
	out->values = 0;
	while (*form) {
		if (*form == '{') {
			size_t n = strcspn(path, "/");

			if (!n || out->values == ROUTE_VALUES)
				return 0;
			if (route_decode(path, n, 0, out->value[out->values], ROUTE_VALUE_MAX))
				return -1;
			out->values++;
			path += n;
			form = strchr(form, '}') + 1;
			continue;
		}
		if (*form++ != *path++)
			return 0;
	}
	return !*path;
}

enum route_result route_find(const char *method, const char *path, struct route *out)
{
	enum route_result result = ROUTE_NO_PATH;

	for (int v = 0; v < API_COUNT; v++) {
		int found = match(routes[v].path, path, out);

		if (found < 0)
			result = ROUTE_BAD;
		if (found <= 0)
			continue;
		if (!strcmp(routes[v].method, method)) {
			out->verb = (enum api_verb)v;
			return ROUTE_FOUND;
		}
		result = ROUTE_NO_METHOD;
	}
	return result;
}
