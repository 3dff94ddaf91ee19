#include "base64.h"

#include <stdint.h>
#include <string.h>

static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

void base64_put(struct text *t, const void *bytes, size_t n)
{
	const uint8_t *p = bytes;

	for (; n >= 3; n -= 3, p += 3) {
		uint32_t x = (uint32_t)p[0] << 16 | (uint32_t)p[1] << 8 | p[2];
		char four[4] = {letters[x >> 18], letters[x >> 12 & 63], letters[x >> 6 & 63],
		    letters[x & 63]};

		text_add(t, four, 4);
	}
	if (n > 0) {
		uint32_t x = (uint32_t)p[0] << 16 | (n > 1 ? (uint32_t)p[1] << 8 : 0);
		char four[4] = {letters[x >> 18], letters[x >> 12 & 63],
		    n > 1 ? letters[x >> 6 & 63] : '=', '='};

		text_add(t, four, 4);
	}
}

static int value(char c)
{
	if (c >= 'A' && c <= 'Z')
		return c - 'A';
	if (c >= 'a' && c <= 'z')
		return c - 'a' + 26;
	if (c >= '0' && c <= '9')
		return c - '0' + 52;
	return c == '+' ? 62 : c == '/' ? 63 : -1;
}

long base64_read(const char *s, size_t n, void *out)
{
	uint8_t *p = out;
	size_t pad = 0;

	if (n % 4)
		return -1;
	while (pad < 2 && pad < n && s[n - 1 - pad] == '=')
		pad++;
	for (size_t i = 0; i < n; i += 4) {
		size_t want = i + 4 == n ? 4 - pad : 4;
		uint32_t x = 0;

		for (size_t k = 0; k < 4; k++) {
			int v = k < want ? value(s[i + k]) : 0;

			if (v < 0)
				return -1;
			x = x << 6 | (uint32_t)v;
		}
		if ((want == 2 && (x & 0xffff)) || (want == 3 && (x & 0xff)))
			return -1;
		*p++ = (uint8_t)(x >> 16);
		if (want > 2)
			*p++ = (uint8_t)(x >> 8);
		if (want > 3)
			*p++ = (uint8_t)x;
	}
	return (long)(p - (uint8_t *)out);
}
