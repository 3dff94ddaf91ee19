/* Words as codes, numbers and lengths. */
#include <string.h>
#include "modal_inside.h"

#define MM_PER_INCH 25.4
#define METRES_PER_FOOT 0.3048

int modal_code(const struct nc_word *w)
{
	uint64_t m = (uint64_t)w->mantissa;
	unsigned scale = w->scale;

	if (w->flags & (NC_COMPUTED | NC_HUGE | NC_NAME) || w->mantissa < 0)
		return -1;
	for (; scale > 1; scale--) {
		if (m % 10)
			return -1;
		m /= 10;
	}
	if (m > 99999)
		return -1;
	return (int)(scale ? m : m * 10);
}

static void add_g(struct modal_words *w, const struct nc_word *word)
{
	int code = modal_code(word);

	if (code < 0)
		w->lost_g = true;
	else
		w->g[w->gs++] = code;
}

/* An M code that is not whole is none that sets anything here. */
static void add_m(struct modal_words *w, const struct nc_word *word)
{
	int code = modal_code(word);

	if (code >= 0)
		w->m[w->ms++] = code;
	else
		w->lost_m |= (word->flags & NC_COMPUTED) != 0;
}

void modal_words_read(struct modal_words *w, const struct modal *m, const struct nc_block *b)
{
	static const char axes[] = "XYZUVWABC";

	memset(w, 0, sizeof(*w));
	w->sequence = -1;
	for (size_t i = 0; i < b->words && i < MODAL_CODES_MAX; i++) {
		const struct nc_word *word = &b->word[i];
		uint64_t n;

		if (word->flags & (NC_COMMA | NC_NAME) || word->letter < 'A' || word->letter > 'Z')
			continue;
		w->of[word->letter - 'A'] = word;
		if (word->letter == 'G')
			add_g(w, word);
		else if (word->letter == 'M')
			add_m(w, word);
		else if (strchr(axes, word->letter) || (word->letter == 'H' && modal_turret(m)))
			w->axes = true;
		else if (word->letter == 'N' && nc_word_whole(word, &n) && n <= INT64_MAX)
			w->sequence = (int64_t)n;
	}
}

bool modal_words_g(const struct modal_words *w, int tenths)
{
	for (size_t i = 0; i < w->gs; i++)
		if (w->g[i] == tenths)
			return true;
	return false;
}

bool modal_words_motion(const struct modal_words *w)
{
	for (size_t i = 0; i < w->gs; i++)
		if (w->g[i] <= 30 || (w->g[i] >= 320 && w->g[i] <= 340))
			return true;
	return false;
}

uint64_t modal_words_repeat(const struct modal_words *w)
{
	const struct nc_word *word = modal_words_of(w, 'L');
	uint64_t n;

	if (!word)
		word = modal_words_of(w, 'K');
	if (!word)
		return 1;
	return nc_word_whole(word, &n) ? n : 0;
}

struct modal_number modal_plain(const struct nc_word *w)
{
	struct modal_number n = {.state = MODAL_ABSENT};
	double ten = 1; /* exact up to 10^18, the largest scale there is */

	if (!w)
		return n;
	n.point = (w->flags & NC_POINT) != 0;
	if (w->flags & (NC_COMPUTED | NC_HUGE | NC_NAME)) {
		n.state = MODAL_UNKNOWN;
		return n;
	}
	n.state = MODAL_KNOWN;
	for (unsigned i = 0; i < w->scale; i++)
		ten *= 10;
	n.v = (double)w->mantissa / ten;
	return n;
}

/* One unit of the program in mm; 0 when it is not known. */
static double unit(const struct modal *m)
{
	if (m->units == MODAL_LOST)
		return 0;
	return m->units == 200 ? MM_PER_INCH : 1;
}

struct modal_number modal_length(const struct modal *m, const struct nc_word *w)
{
	struct modal_number n = modal_plain(w);

	if (n.state != MODAL_KNOWN)
		return n;
	if (unit(m) == 0)
		n.state = MODAL_UNKNOWN;
	n.v *= unit(m);
	if (!n.point && m->increment != 1)
		n.v *= m->units == 200 ? m->increment / 10 : m->increment;
	return n;
}

struct modal_number modal_feed(const struct modal *m)
{
	struct modal_number n = m->feed;

	if (n.state != MODAL_KNOWN)
		return n;
	if (m->feed_mode != 930) {
		n.v *= unit(m);
		if (unit(m) == 0)
			n.state = MODAL_UNKNOWN;
	}
	if (m->feed_mode < 0 || (m->feed_mode == 950 && !n.point && m->increment != 1))
		n.state = MODAL_UNKNOWN;
	return n;
}

struct modal_number modal_speed(const struct modal *m)
{
	struct modal_number n = m->speed;

	if (n.state != MODAL_KNOWN)
		return n;
	if ((m->spindle != 3 && m->spindle != 4) || m->speed_mode == MODAL_LOST ||
	    (m->speed_mode == MODAL_NONE && m->channel->diameter))
		n.state = MODAL_UNKNOWN;
	if (m->speed_mode == 960 && unit(m) == 0)
		n.state = MODAL_UNKNOWN;
	if (m->speed_mode == 960 && m->units == 200)
		n.v *= METRES_PER_FOOT;
	return n;
}

struct modal_number modal_clamp(const struct modal *m)
{
	if (m->clamp.state != MODAL_ABSENT)
		return m->clamp;
	return (struct modal_number){.state = MODAL_KNOWN, .v = m->channel->speed_max};
}
