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

void facts_read(struct facts *f, const struct profile *profile, const struct nc_block *b)
{
	bool first = true;

	*f = (struct facts){0};
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		switch (w->letter) {
		case 'N':
			continue;
		case 'M':
			read_m(f, profile, w);
			break;
		case 'G':
			read_g(f, w);
			break;
		case 'O':
			if (first)
				f->number = w;
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
			f->others++;
		}
		first = false;
	}
}
