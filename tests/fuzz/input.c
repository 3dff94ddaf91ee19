#include "input.h"

#include <stdlib.h>
#include <string.h>

uint8_t input_byte(struct input *in)
{
	if (in->left == 0)
		return 0;
	in->left--;
	return *in->at++;
}

uint32_t input_number(struct input *in)
{
	uint32_t low = input_byte(in);

	return low < 128 ? low : low << (input_byte(in) % 25);
}

struct input input_part(struct input *in)
{
	const uint8_t *end = in->left ? memchr(in->at, 1, in->left) : NULL;
	struct input part = {in->at, end ? (size_t)(end - in->at) : in->left};
	size_t taken = part.left + (end != NULL);

	in->at += taken;
	in->left -= taken;
	return part;
}

char *input_string(struct input *in)
{
	struct input part = input_part(in);
	char *s = malloc(part.left + 1);

	must(s != NULL);
	if (part.left)
		memcpy(s, part.at, part.left);
	s[part.left] = '\0';
	return s;
}

size_t input_step(uint32_t *seed, size_t most)
{
	*seed ^= *seed << 13;
	*seed ^= *seed >> 17;
	*seed ^= *seed << 5;
	return 1 + *seed % most;
}

void must(bool holds)
{
	if (!holds)
		abort();
}

/* One character of at most four bytes; its length, 0 when it is none. By Unicode 15, 3.9, D92. */
static size_t character(const uint8_t *s, size_t n, uint32_t *code)
{
	static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
	size_t length = *s < 0x80       ? 1
	                : *s >> 5 == 6  ? 2
	                : *s >> 4 == 14 ? 3
	                : *s >> 3 == 30 ? 4
	                                : 0;

	if (length == 0 || length > n)
		return 0;
	*code = length == 1 ? *s : *s & (0x7Fu >> length);
	for (size_t i = 1; i < length; i++) {
		if (s[i] >> 6 != 2)
			return 0;
		*code = *code << 6 | (s[i] & 0x3F);
	}
	return *code >= least[length] && *code <= 0x10FFFF && *code >> 11 != 0xD800 >> 11 ? length
	                                                                                  : 0;
}

void must_be_plain(const char *s, size_t n)
{
	while (n > 0) {
		uint32_t code = 0;
		size_t length = character((const uint8_t *)s, n, &code);

		must(length > 0);
		must(
		    code == '\n' || (code >= 0x20 && code != 0x7F && (code < 0x80 || code > 0x9F)));
		s += length;
		n -= length;
	}
}
