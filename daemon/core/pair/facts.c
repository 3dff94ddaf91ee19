#include "facts.h"

static void read_m(struct facts *f, const struct profile *profile, const struct nc_word *w)
{
	uint64_t m;

	if (!nc_word_whole(w, &m)) {
		f->others++;
		return;
	}
	if (profile_is_wait(profile, m)) {
		f->waits++;
		if (!f->wait)
			f->wait = w;
		return;
	}
	f->others++;
	if (m == 1)
		f->stop = w;
	else if (m == 2 || m == 30)
		f->end = w;
	else if (m == 99)
		f->sub_end = w;
	else if (m == 97)
		f->local_call = true;
}

static void read_g(struct facts *f, const struct nc_word *w)
{
	uint64_t g;

	f->others++;
	if (w->letter == 'G' && w->scale == 1 && (w->mantissa / 10 == 65 || w->mantissa / 10 == 66))
		f->macro_call = true;
	if (!nc_word_whole(w, &g))
		return;
	if (g == 40)
		f->compensation = -1;
	else if (g == 41 || g == 42)
		f->compensation = 1;
	else if (g == 94)
		f->per_turn = -1;
	else if (g == 95)
		f->per_turn = 1;
	else if (g == 65 || g == 66)
		f->macro_call = true;
	else if (g == 73 || (g >= 80 && g <= 89))
		f->cycle = true;
}

/* True when a setting, a keyword or a wait call stands before the block's first word. */
static bool behind_text(const struct nc_block *b, const struct nc_word *w)
{
	if (b->flags & NC_CALL && b->call_col < w->col)
		return true;
	for (size_t i = 0; b->flags & NC_MACRO && i + 1 < w->col; i++)
		if (b->text[i] == '#' || (b->text[i] >= 'A' && b->text[i] <= 'Z'))
			return true;
		else if (b->text[i] == '(')
			return false;
	return false;
}

/* G and M may stand more than once, and what follows a comma is another thing; so are arguments. */
static void twice(struct facts *f, const struct nc_word *w, uint32_t *letters)
{
	uint32_t bit = w->letter >= 'A' && w->letter <= 'Z' ? 1u << (w->letter - 'A') : 0;

	if (w->letter == 'G' || w->letter == 'M' || w->letter == 'O' || w->flags & NC_COMMA)
		return;
	if (*letters & bit && !f->doubled)
		f->doubled = w;
	*letters |= bit;
}

void facts_read(struct facts *f, const struct profile *profile, const struct nc_block *b)
{
	bool first = true;
	uint32_t letters = 0;
	unsigned partners = 0;

	*f = (struct facts){.waits = (b->flags & NC_CALL) != 0};
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		if (w->flags & NC_GAP && !f->gap)
			f->gap = w;
		if (w->letter == 'N') {
			if (!f->inner && (i > 0 || behind_text(b, w)))
				f->inner = w;
			continue;
		}
		twice(f, w, &letters);
		switch (w->letter) {
		case 'M':
			read_m(f, profile, w);
			break;
		case 'G':
			read_g(f, w);
			break;
		case 'O':
			if (first)
				f->number = w;
			else if (w->flags & NC_NAME)
				f->others++; /* of the program that is called */
			else if (!f->stray)
				f->stray = w;
			break;
		case 'X':
		case 'Y':
		case 'Z':
		case 'U':
		case 'V':
		case 'W':
			f->motion = true;
			f->others++;
			break;
		default:
			if (profile->partners != PROFILE_PARTNERS_ALL &&
			    w->letter == profile->partners_letter)
				partners++;
			else
				f->others++;
		}
		first = false;
	}
	/* with a wait code they are part of it */
	f->others += f->waits ? 0 : partners;
	if (f->macro_call)
		f->doubled = NULL;
}
