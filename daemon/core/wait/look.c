#include "look.h"

/* Which addresses of a call may be doubled or say more than P and L. */
struct seen {
	unsigned p, l;
	bool more; /* Q, H, D, K: where in the called program, or how often (makers' choice) */
	bool computed_g; /* G with a value that is not known */
	bool cycle;      /* G70 to G73 */
	bool place;      /* X, Y, Z or R: a cycle with these drills and has no contour */
	bool named;      /* the word that names channels stands in the block */
	bool claims;     /* G4, G10 or a cycle, whose own P it may be */
	bool still;      /* X is a dwell, a clamp, an offset: G4, G10, G50, G52, G92 */
	bool turns;      /* A, B, C or H, or a full circle by I, J, K: no X, Y or Z is needed */
	const struct nc_word *q;
	bool alone_p; /* a code that calls when P stands with it */
};

static bool in(const struct profile_range *v, uint32_t n, uint64_t m)
{
	for (uint32_t i = 0; i < n; i++)
		if (m >= v[i].low && m <= v[i].high)
			return true;
	return false;
}

/* True when the profile gives this M code to waits or signals. */
static bool kind_of(const struct profile *p, uint64_t m, enum wait_code_kind *kind)
{
	if (profile_is_wait(p, m))
		*kind = WAIT_CODE_MEET;
	else if (in(p->send, p->sends, m))
		*kind = WAIT_CODE_SEND;
	else if (in(p->receive, p->receives, m))
		*kind = WAIT_CODE_RECEIVE;
	else
		return false;
	return true;
}

bool wait_look_is_code(
    const struct profile *profile, const struct nc_word *w, struct wait_code *code)
{
	enum wait_code_kind kind;
	uint64_t m;

	if (w->letter != 'M' || !nc_word_whole(w, &m) || !kind_of(profile, m, &kind))
		return false;
	code->code = (uint32_t)m;
	code->kind = (uint8_t)kind;
	return true;
}

/* The digits before the point, without sign; false when they are not known. */
static bool whole_part(const struct nc_word *w, uint64_t *value)
{
	uint64_t m = w->mantissa < 0 ? 0 - (uint64_t)w->mantissa : (uint64_t)w->mantissa;

	if (w->flags & (NC_COMPUTED | NC_HUGE))
		return false;
	for (unsigned i = 0; i < w->scale; i++)
		m /= 10;
	*value = m;
	return true;
}

static void doubt(struct wait_look *k, const char *why)
{
	if (!k->why)
		k->why = why;
}

/* M201.5, M-201, M with more digits than fit: some controls take the digits before the point. */
static void odd_m(struct wait_look *k, const struct profile *profile, const struct nc_word *w)
{
	uint64_t m;
	enum wait_code_kind kind;
	bool matters = !whole_part(w, &m) || kind_of(profile, m, &kind) || m == 2 || m == 30 ||
	               (m >= 96 && m <= 99) || m == 198;

	if (matters)
		doubt(k, "an M code that is not a whole number");
}

static void look_m(
    struct wait_look *k, struct seen *s, const struct profile *profile, const struct nc_word *w)
{
	enum wait_code_kind kind;
	uint64_t m;

	if (w->flags & NC_COMPUTED) {
		doubt(k, "a computed M code");
	} else if (!nc_word_whole(w, &m)) {
		odd_m(k, profile, w);
	} else if (kind_of(profile, m, &kind)) {
		k->waits++;
	} else if (m == 98) {
		k->call = w;
		k->calls++;
	} else if (m == 99) {
		k->sub_end = w;
	} else if (m == 2 || m == 30) {
		k->end = w;
	} else if (m == 96 || m == 97 || m == 198) {
		s->alone_p = true;
	}
}

static void look_g(struct wait_look *k, struct seen *s, const struct nc_word *w)
{
	uint64_t g;

	s->claims |= !whole_part(w, &g) || g == 4 || g == 10 || (g >= 70 && g <= 89);
	if (w->flags & NC_COMPUTED) {
		s->computed_g = true;
	} else if (whole_part(w, &g) && (g == 65 || g == 66)) {
		/* G66.1 calls as G66 does, once for every block (common practice) */
		k->macro = w;
		k->calls++;
	} else if (nc_word_whole(w, &g) && g == 67) {
		k->cancels = true;
	} else if (nc_word_whole(w, &g) && (g == 4 || g == 10 || g == 50 || g == 52 || g == 92)) {
		s->still = true;
	} else if (nc_word_whole(w, &g) && g >= 70 && g <= 73) {
		s->cycle = true;
		k->finishes = g == 70;
	}
}

static void look_word(
    struct wait_look *k, struct seen *s, const struct profile *profile, const struct nc_word *w)
{
	s->named |=
	    profile->partners != PROFILE_PARTNERS_ALL && w->letter == profile->partners_letter;
	switch (w->letter) {
	case 'M':
		look_m(k, s, profile, w);
		break;
	case 'G':
		look_g(k, s, w);
		break;
	case 'P':
		k->p = w;
		s->p++;
		break;
	case 'L':
		k->l = w;
		s->l++;
		break;
	case 'X':
	case 'Y':
	case 'Z':
		k->moves |= !(w->flags & NC_COMMA);
		s->place = true;
		break;
	case 'R':
		s->place = true;
		break;
	case 'U':
	case 'V':
	case 'W':
		k->moves |= !(w->flags & NC_COMMA);
		break;
	case 'O':
		if (w->flags & NC_NAME && w != k->number)
			k->name = w;
		break;
	case 'Q':
		s->q = w;
		s->more = true;
		break;
	case 'H':
	case 'K':
		s->turns = true;
		s->more = true;
		break;
	case 'D':
		s->more = true;
		break;
	case 'A':
	case 'B':
	case 'C':
	case 'I':
	case 'J':
		s->turns |= !(w->flags & NC_COMMA);
		break;
	}
}

/* G71 P100 Q200: P and Q name the first and the last block of a contour (common practice). */
static void look_contour(struct wait_look *k, const struct seen *s)
{
	uint64_t from, to;

	if (!s->cycle || s->place || !k->p || !s->q || k->calls)
		return;
	if (!nc_word_whole(k->p, &from) || !nc_word_whole(s->q, &to) || from > UINT32_MAX ||
	    to > UINT32_MAX) {
		doubt(k, "a cycle whose contour is computed");
		return;
	}
	k->contour = true;
	k->from = (uint32_t)from;
	k->to = (uint32_t)to;
}

/* What only the whole block shows. */
static void weigh(struct wait_look *k, const struct seen *s, const struct profile *profile)
{
	bool call = k->call || k->sub_end;

	k->may_move = !s->still && (k->moves ? s->computed_g : s->turns);
	k->moves &= !s->still && !s->computed_g;
	look_contour(k, s);
	if (s->computed_g && k->p)
		doubt(k, "a computed G code with P");
	if (s->alone_p && k->p)
		doubt(k, "M96, M97 or M198 with P: a call of blocks elsewhere");
	if (call && (s->p > 1 || s->l > 1))
		doubt(k, "a call with P or L twice");
	if (call && s->more)
		doubt(
		    k, "M98 or M99 with Q, H, D or K: it may lead to another block than the first");
	k->unsure = k->waits > 1;
	if (k->waits > 1)
		doubt(k, "several wait codes in one block: their order is not known");
	if (k->waits && k->p && profile->channels > 2 && !k->calls && !k->sub_end &&
	    profile->partners == PROFILE_PARTNERS_ALL) {
		k->unsure = true;
		doubt(k, "a wait code with P: which of the channels meet is not known");
	}
	if (k->waits && s->named && profile->channels > 2 &&
	    (s->claims || k->calls || k->sub_end)) {
		k->unsure = true;
		doubt(
		    k, "a wait code beside what has a P of its own: whose the P is, is not known");
	}
}

void wait_look(struct wait_look *k, const struct profile *profile, const struct nc_block *b)
{
	struct seen s = {0};
	bool only_n = true;
	unsigned before;
	uint64_t value;

	*k = (struct wait_look){.sequence = -1};
	for (size_t i = 0; i < b->words; i++) {
		const struct nc_word *w = &b->word[i];

		if (b->flags & NC_UNCERTAIN && w->col >= b->uncertain_col)
			break;
		k->words++;
		if (w->letter == 'N') {
			if (k->sequence < 0 && nc_word_whole(w, &value))
				k->sequence = (int64_t)value;
			continue;
		}
		if (w->letter == 'O' && only_n)
			k->number = w;
		only_n = false;
		if (b->flags & NC_PERCENT && w->letter != 'O')
			doubt(k, "words in the line of a %: controls pass over them");
		before = k->waits + k->calls + (k->end || k->sub_end);
		look_word(k, &s, profile, w);
		if (!k->col && k->waits + k->calls + (k->end || k->sub_end) > before)
			k->col = w->col;
	}
	if (b->flags & NC_CALL && !(b->flags & NC_UNCERTAIN && b->call_col >= b->uncertain_col)) {
		k->waits++;
		if (!k->col || b->call_col < k->col)
			k->col = b->call_col;
	}
	weigh(k, &s, profile);
}
