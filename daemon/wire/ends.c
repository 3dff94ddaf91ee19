#include "ends.h"

#include <stdbool.h>
#include <string.h>
#include "iso.h"

void ends_begin(struct ends *e, const char *end)
{
	*e = (struct ends){.end = end};
}

static size_t text_length(const uint8_t *p, size_t n)
{
	size_t i = 0;

	while (i < n && p[i] != ISO_LF && p[i] != ISO_CR)
		i++;
	return i;
}

/* True when the line end's byte begins another one than the last. */
static bool begins(struct ends *e, uint8_t b)
{
	bool anew = e->state == ENDS_TEXT || (e->state == ENDS_LF && b == ISO_LF);

	if (b == ISO_LF)
		e->state = ENDS_LF;
	else if (anew)
		e->state = ENDS_CRS;
	return anew;
}

size_t ends_feed(struct ends *e, const void *in, size_t n, uint8_t *out)
{
	const uint8_t *p = in;
	size_t width = strlen(e->end), made = 0;

	while (n > 0) {
		size_t text = text_length(p, n);

		if (text) {
			memcpy(out + made, p, text);
			made += text;
			e->state = ENDS_TEXT;
		} else {
			if (begins(e, *p)) {
				memcpy(out + made, e->end, width);
				made += width;
			}
			text = 1;
		}
		p += text;
		n -= text;
	}
	return made;
}
