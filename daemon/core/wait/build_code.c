/* Wait codes of a block: M codes with the channels they name, and waits written as a call. */
#include <string.h>
#include "build.h"

/* The channels that a word names, as its profile writes them. False when that cannot be meant. */
static bool partners(const struct profile *p, const struct nc_word *w, uint32_t *set)
{
	uint64_t value;

	*set = 0;
	if (!nc_word_whole(w, &value) || value == 0)
		return false;
	if (p->partners == PROFILE_PARTNERS_MASK) {
		*set = (uint32_t)value;
		return value < (uint64_t)1 << p->channels;
	}
	for (; value; value /= 10) {
		uint64_t channel = value % 10;

		if (channel < 1 || channel > p->channels || *set >> (channel - 1) & 1)
			return false;
		*set |= 1u << (channel - 1);
	}
	return true;
}

/* The channels named in the block at hand, 0 without any. */
static bool named(const struct wait_flow *f, const struct wait_look *k, uint32_t *set)
{
	const struct profile *p = f->profile;
	const struct nc_word *found = NULL;

	*set = 0;
	if (p->partners == PROFILE_PARTNERS_ALL)
		return true;
	for (size_t i = 0; i < k->words; i++) {
		const struct nc_word *w = &f->build->block->word[i];

		if (w->letter != p->partners_letter)
			continue;
		if (found)
			return false;
		found = w;
	}
	return !found || partners(p, found, set);
}

static bool add(struct wait_flow *f, struct wait_code code, uint32_t col)
{
	struct wait_code *c = wait_build_room(f->code, f->codes, &f->codes_cap, sizeof *c);
	struct wait_instr *i;

	if (!c)
		return false;
	f->code = c;
	code.skip = f->build->block->skip;
	code.at = (struct wait_place){f->build->block->line, col, f->build->sequence, 0};
	f->code[f->codes] = code;
	if (f->build->inside) {
		f->codes++;
		return wait_build_unknown(f, col,
		    "a wait code inside the contour of a cycle: whether and how often it counts is "
		    "not known");
	}
	i = wait_build_add(f, WAIT_OP_CODE, col);
	if (i)
		i->a = (uint32_t)f->codes++;
	return i != NULL;
}

/* A whole number at s, blanks around it; false for anything else. */
static bool whole(const char *s, size_t n, uint64_t *value)
{
	size_t digits = 0;

	*value = 0;
	while (n && (*s == ' ' || *s == '\t')) {
		s++;
		n--;
	}
	while (n && (s[n - 1] == ' ' || s[n - 1] == '\t'))
		n--;
	for (; n && *s >= '0' && *s <= '9' && digits < 9; s++, n--, digits++)
		*value = *value * 10 + (uint64_t)(*s - '0');
	return digits && !n;
}

/* A wait written as a call: one argument is its code, the others are channels. */
static bool wait_call(struct wait_flow *f)
{
	const struct nc_block *b = f->build->block;
	const struct profile *p = f->profile;
	struct wait_code code = {.kind = WAIT_CODE_MEET, .call = true};
	const char *s = b->call, *end = b->call + b->call_length;
	bool known = false, bad = false;
	uint64_t v;

	for (uint32_t k = 0; s <= end; k++) {
		const char *comma = memchr(s, ',', (size_t)(end - s));
		const char *stop = comma ? comma : end;

		if (!whole(s, (size_t)(stop - s), &v)) {
			bad = true;
		} else if (k == p->wait_call_code) {
			code.code = (uint32_t)v;
			known = true;
		} else if (v < 1 || v > p->channels || code.partners >> (v - 1) & 1) {
			bad = true;
		} else {
			code.partners |= 1u << (v - 1);
		}
		s = stop + 1;
	}
	if (bad || !known)
		return wait_build_unknown(f, b->call_col, WAIT_BAD_PARTNERS);
	return add(f, code, b->call_col);
}

bool wait_build_codes(struct wait_flow *f, const struct wait_look *k)
{
	const struct nc_block *b = f->build->block;
	uint32_t set;
	bool good = named(f, k, &set);

	for (size_t i = 0; k->waits && i < k->words; i++) {
		const struct nc_word *w = &b->word[i];
		struct wait_code code = {.partners = set};

		if (!wait_look_is_code(f->profile, w, &code))
			continue;
		if (!good && code.kind != WAIT_CODE_RECEIVE) {
			if (!wait_build_unknown(f, w->col, WAIT_BAD_PARTNERS))
				return false;
			continue;
		}
		if (!add(f, code, w->col))
			return false;
	}
	if (!(b->flags & NC_CALL) || (b->flags & NC_UNCERTAIN && b->call_col >= b->uncertain_col))
		return true;
	return wait_call(f);
}
