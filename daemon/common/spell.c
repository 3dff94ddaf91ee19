#include "spell.h"

#include <ctype.h>
#include <string.h>

enum { SPELL_MAX = 64 }; /* longer words get no help */

static int lower(char c)
{
	return tolower((unsigned char)c);
}

static unsigned min3(unsigned a, unsigned b, unsigned c)
{
	unsigned ab = a < b ? a : b;

	return ab < c ? ab : c;
}

/* Edit distance with swaps of neighbours ("optimal string alignment"); both at most SPELL_MAX long.
 */
static unsigned distance(const char *a, size_t an, const char *b, size_t bn)
{
	unsigned row[3][SPELL_MAX + 1];
	unsigned *before = row[0], *last = row[1], *now = row[2];

	for (size_t j = 0; j <= bn; j++)
		last[j] = (unsigned)j;
	for (size_t i = 1; i <= an; i++) {
		now[0] = (unsigned)i;
		for (size_t j = 1; j <= bn; j++) {
			unsigned same = lower(a[i - 1]) == lower(b[j - 1]) ? 0 : 1;

			now[j] = min3(last[j] + 1, now[j - 1] + 1, last[j - 1] + same);
			if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
			    lower(a[i - 2]) == lower(b[j - 1]) && before[j - 2] + 1 < now[j])
				now[j] = before[j - 2] + 1;
		}
		unsigned *spare = before;

		before = last;
		last = now;
		now = spare;
	}
	return last[bn];
}

const char *spell_nearest(const char *word, const char *const *known, size_t n)
{
	size_t length = strnlen(word, SPELL_MAX + 1);
	const char *nearest = NULL;
	unsigned best = (unsigned)(length / 3 + 1);

	if (length == 0 || length > SPELL_MAX)
		return NULL;
	if (length < 3)
		best = 1;
	for (size_t i = 0; i < n; i++) {
		size_t other = strnlen(known[i], SPELL_MAX + 1);
		unsigned d;

		if (other > SPELL_MAX)
			continue;
		d = distance(word, length, known[i], other);
		if (d < best || (!nearest && d == best)) {
			best = d;
			nearest = known[i];
		}
	}
	return nearest;
}
