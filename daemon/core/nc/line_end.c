#include "line_end.h"

#include <string.h>

enum { FIRST = 256 }; /* most lines are shorter */

const char *line_end_find(const char *p, const char *stop)
{
	size_t look = FIRST;

	while (p < stop) {
		size_t n = look < (size_t)(stop - p) ? look : (size_t)(stop - p);
		const char *lf = memchr(p, '\n', n);
		const char *cr = memchr(p, '\r', lf ? (size_t)(lf - p) : n);

		if (cr || lf)
			return cr ? cr : lf;
		p += n;
		look *= 2;
	}
	return stop;
}
