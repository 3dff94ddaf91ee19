#include "nc.h"

const struct nc_word *nc_block_word(const struct nc_block *b, char letter)
{
	for (size_t i = 0; i < b->words; i++)
		if (b->word[i].letter == letter)
			return &b->word[i];
	return NULL;
}

bool nc_word_whole(const struct nc_word *w, uint64_t *value)
{
	uint64_t m = (uint64_t)w->mantissa;

	if (w->flags & (NC_COMPUTED | NC_HUGE | NC_NAME) || w->mantissa < 0)
		return false;
	for (unsigned i = 0; i < w->scale; i++) {
		if (m % 10)
			return false;
		m /= 10;
	}
	*value = m;
	return true;
}
