#include <stdio.h>
#include <string.h>
#include "rules.h"

/*
 * Which words want a decimal point. On a common control family X1 is 0.001 mm, and X1. is 1 mm
 * (that family's manual, decimal-point input type I); angles likewise. F only with G95 (feed per
 * turn): F200 without a point is the usual way to write a feed per minute. P, L, S, T, M, G, N, H,
 * D, Q and E are counts, numbers, or in units of the maker's choice. Zero is zero either way.
 */
static bool wants_point(const struct program *p, const struct facts *f, char letter)
{
	switch (letter) {
	case 'X':
	case 'Y':
	case 'Z':
	case 'U':
	case 'V':
	case 'W':
	case 'A':
	case 'B':
	case 'C':
	case 'I':
	case 'J':
		return true;
	case 'K':
	case 'R':
		return !f->cycle;
	case 'F':
		return p->per_turn;
	default:
		return false;
	}
}

static void points(struct program *p, const struct nc_block *b, const struct facts *f)
{
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		if (w->flags & (NC_POINT | NC_COMPUTED | NC_HUGE) || w->mantissa == 0 ||
		    !wants_point(p, f, w->letter))
			continue;
		PROGRAM_TELL(p, POINT_MISSING, b->line, w->col, "",
		    "%c%lld without a decimal point; write %c%lld. if that is meant", w->letter,
		    (long long)w->mantissa, w->letter, (long long)w->mantissa);
	}
}

/* True when the word is the forbidden one: the same letter, and the same number or any. */
static bool is_forbidden(const struct nc_word *w, const char *forbid)
{
	char have[48];
	long long whole = w->mantissa, part = 0, unit = 1;
	unsigned scale = w->scale;

	if (w->letter != forbid[0])
		return false;
	if (!forbid[1])
		return true;
	if (w->flags & (NC_COMPUTED | NC_HUGE) || scale > 18 || whole < 0)
		return false;
	for (; scale > 0 && whole % 10 == 0; scale--)
		whole /= 10;
	for (unsigned i = 0; i < scale; i++)
		unit *= 10;
	part = whole % unit;
	whole /= unit;
	if (scale > 0)
		snprintf(have, sizeof(have), "%lld.%0*lld", whole, (int)scale, part);
	else
		snprintf(have, sizeof(have), "%lld", whole);
	return strcmp(have, forbid + 1) == 0;
}

static void forbidden(struct program *p, const struct nc_block *b)
{
	for (uint32_t c = 0; c < p->profile->channels; c++) {
		const struct profile_channel *channel = &p->profile->channel[c];

		for (uint32_t k = 0; k < channel->forbids; k++) {
			for (size_t i = 0; i < b->words; i++) {
				struct forbidden *f = &p->forbidden[c][k];

				if (is_forbidden(&b->word[i], channel->forbid[k]) &&
				    f->count++ == 0)
					f->at = (struct place){b->line, b->word[i].col};
			}
		}
	}
}

static void stop(struct program *p, const struct nc_block *b, const struct facts *f)
{
	if (!f->stop)
		return;
	if (p->stops < STOPS_KEEP)
		p->stop[p->stops] = (struct stop_place){p->waits, {b->line, f->stop->col}};
	p->stops++;
}

void rules_word_block(struct program *p, const struct nc_block *b, const struct facts *f)
{
	if (f->per_turn)
		p->per_turn = f->per_turn > 0;
	if (p->profile->point_required && !f->macro_call)
		points(p, b, f);
	forbidden(p, b);
	stop(p, b, f);
	if (f->stray)
		PROGRAM_TELL(p, WORD_BAD, b->line, f->stray->col,
		    "write the digit 0 if that is meant; a program number begins its block",
		    "letter O or colon inside the block");
	if (f->gap)
		PROGRAM_TELL(p, NUMBER_GAP, b->line, f->gap->col,
		    "see whether a letter was lost there; write the number without blanks",
		    "blanks inside the number of %c", f->gap->letter);
	if (f->inner)
		PROGRAM_TELL(p, WORD_BAD, b->line, f->inner->col,
		    "see whether a line end was lost before it; N begins its block",
		    "sequence number N%lld inside the block", (long long)f->inner->mantissa);
	else if (f->doubled)
		PROGRAM_TELL(p, WORD_DOUBLED, b->line, f->doubled->col,
		    "see whether a line end was lost before it, or remove one of the two",
		    "%c stands twice in this block", f->doubled->letter);
}

void rules_word_finish(struct program *p)
{
	int c = p->identity.channel;

	if (c < 0)
		return;
	for (uint32_t k = 0; k < p->profile->channel[c].forbids; k++) {
		const struct forbidden *f = &p->forbidden[c][k];

		if (f->count > 0)
			PROGRAM_TELL(p, WORD_FORBIDDEN, f->at.line, f->at.col,
			    "see whether the two programs were swapped",
			    "%s is not taken by channel %s; it stands here%s",
			    p->profile->channel[c].forbid[k], p->profile->channel[c].name,
			    f->count > 1 ? " first" : "");
	}
}
