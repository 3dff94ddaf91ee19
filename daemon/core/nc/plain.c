/*
 * 64 bytes at a time. What each byte is becomes a bit, and the grammar of plain blocks becomes
 * arithmetic with these bits: every rule looks back from the byte at hand, so that what the 64
 * bytes before it were is all that has to be known of them. A bit that breaks a rule stands in its
 * own block, at or behind the byte that is to blame: blocks that end before it are plain.
 */
#include "plain.h"

#include "plain_mask.h"

enum { TEXT_MAX = 127 }; /* no block of this length has more than NC_WORDS_MAX words */

static const uint32_t bit_g = (uint32_t)1 << ('G' - 'A'), bit_n = (uint32_t)1 << ('N' - 'A');

struct state {
	const struct nc_plain_allowed *allowed;
	uint32_t denied;                      /* letters; N too, but where it begins a block */
	bool numbered;                        /* each block of the run begins with N */
	const char *s;                        /* the bytes at hand */
	const struct nc_plain_mask *is, *was; /* what they are, and the 64 before them */
	uint64_t cr, cr_was;
	uint64_t pair, four, eight; /* numbers go on for so many bytes, before the bytes at hand */
	uint64_t letters, signs;    /* letters but G and N; signs behind them; before as well */
	uint64_t carry_two, carry_point; /* runs of digits that go on: 1 or 0 */
	uint32_t seen;                   /* such letters in the block so far */
};

/* Bits of a set, n bytes further on. */
static inline uint64_t on(uint64_t is, uint64_t was, unsigned n)
{
	return is << n | was >> (64 - n);
}

/* Bits below this one. */
static inline uint64_t below(unsigned at)
{
	return ((uint64_t)1 << at) - 1;
}

/*
 * The byte behind each run of bytes in set that begins in from: a carry runs through it, and out of
 * the 64 bytes into the next.
 */
static inline uint64_t behind(uint64_t set, uint64_t from, uint64_t *carry)
{
	uint64_t sum = set + (from & set), all = sum + *carry;

	*carry = sum < set || all < sum;
	return all & ~set;
}

/* 16 bytes of numbers in a row: what fits exactly is not asked here. */
static inline uint64_t many(struct state *t, uint64_t number, uint64_t number_was)
{
	const uint64_t pair = number & on(number, number_was, 1);
	const uint64_t four = pair & on(pair, t->pair, 2);
	const uint64_t eight = four & on(four, t->four, 4);
	const uint64_t more = eight & on(eight, t->eight, 8);

	t->pair = pair;
	t->four = four;
	t->eight = eight;
	return more;
}

/* The second digit of G, unless it is that of G00 to G03. */
static inline uint64_t second_digit(const struct state *t, uint64_t number)
{
	const uint64_t second = on(t->is->g, t->was->g, 2) & number;
	uint64_t bad = second & ~t->is->low;

	for (uint64_t rest = second; rest; rest &= rest - 1)
		if (t->s[__builtin_ctzll(rest) - 1] != '0')
			bad |= rest & -rest;
	return bad;
}

/* Of G only G0 to G3, and G00 to G03. */
static inline uint64_t other_g(const struct state *t, uint64_t number, uint64_t number_was)
{
	const uint64_t third = on(t->is->g, t->was->g, 3) & number & on(number, number_was, 1);

	return (on(t->is->g, t->was->g, 1) & ~t->is->low) | second_digit(t, number) | third;
}

/* Bytes that belong to no plain block. CR is only looked for when there is something else. */
static inline uint64_t unknown(struct state *t, uint64_t number)
{
	const struct nc_plain_mask *is = t->is;
	uint64_t bad = ~(is->letter | number | is->sign | is->blank | is->lf);

	t->cr_was = t->cr;
	t->cr = bad ? nc_plain_each(t->s, '\r') : 0;
	return (bad & ~t->cr) | (on(t->cr, t->cr_was, 1) & ~is->lf);
}

/* Bits at which the structure of the blocks is broken. */
static inline uint64_t broken(struct state *t)
{
	const struct nc_plain_mask *is = t->is, *was = t->was;
	const uint64_t number = is->digit | is->point, number_was = was->digit | was->point;
	const uint64_t behind_letter = on(is->letter, was->letter, 1);
	const uint64_t behind_point = on(is->point, was->point, 1);
	/* points without a digit before them */
	const uint64_t bare = is->point & ~on(is->digit, was->digit, 1);
	const uint64_t bare_was = was->point & ~(was->digit << 1);
	uint64_t bad;

	bad = unknown(t, number);
	bad |= on(is->lf, was->lf, 1) & ~is->letter;
	bad |= behind_letter & ~(is->sign | number);
	bad |= is->sign & ~behind_letter;
	bad |= on(is->sign, was->sign, 1) & ~number;
	bad |= number & on(is->blank, was->blank, 1);
	/* one point, and a digit beside it */
	bad |= on(bare, bare_was, 1) & ~is->digit;
	bad |= is->point & (behind_point | behind(is->digit, behind_point, &t->carry_two));
	bad |= other_g(t, number, number_was);
	return bad | many(t, number, number_was);
}

/* True when the number that ends before at, without a point, has no letter that wants one, or is
 * zero. */
static bool may_lack_point(const struct state *t, unsigned at)
{
	const char *p = t->s + at - 1;
	bool zero = true;

	for (; *p >= '0' && *p <= '9'; p--)
		zero = zero && *p == '0';
	if (*p == '+' || *p == '-')
		p--;
	return zero || !(t->allowed->points >> (*p - 'A') & 1);
}

/* Bytes behind numbers that lack the point which their letters want. */
static inline uint64_t pointless(struct state *t, uint64_t letters)
{
	const uint64_t behind_letter = on(letters, t->letters, 1);
	const uint64_t signs = behind_letter & t->is->sign;
	const uint64_t from = behind_letter | on(signs, t->signs, 1);
	uint64_t bad = behind(t->is->digit, from, &t->carry_point) & ~t->is->point;

	t->letters = letters;
	t->signs = signs;
	for (uint64_t rest = t->allowed->points ? bad : 0; rest; rest &= rest - 1)
		if (may_lack_point(t, (unsigned)__builtin_ctzll(rest)))
			bad ^= rest & -rest;
	return t->allowed->points ? bad : 0;
}

/* Which of these letters are not allowed, or stand in their block for the second time. */
static uint64_t wrong(const struct state *t, uint64_t letters)
{
	uint64_t bad = 0;
	uint32_t seen = t->seen;
	unsigned before = 0;

	for (uint64_t rest = letters; rest; rest &= rest - 1) {
		const unsigned at = (unsigned)__builtin_ctzll(rest);
		const uint32_t bit = (uint32_t)1 << (t->s[at] - 'A');

		if (t->is->lf & below(at) & ~below(before))
			seen = 0;
		if ((t->denied | seen) & bit)
			bad |= (uint64_t)1 << at;
		seen |= bit;
		before = at;
	}
	return bad;
}

/* What depends on the letters: G apart, and the N that may begin a block. */
static inline uint64_t unwanted(struct state *t)
{
	const uint64_t begin = on(t->is->lf, t->was->lf, 1);
	const uint64_t letters = t->is->letter & ~t->is->g & ~(t->numbered ? begin : 0);
	/* the first of them in each block */
	const uint64_t first = (((begin & ~letters) + ~letters) | begin) & letters;
	uint32_t seen = t->seen | t->denied, twice = 0;
	uint64_t bad;

	for (uint64_t rest = letters; rest; rest &= rest - 1) {
		const unsigned at = (unsigned)__builtin_ctzll(rest);
		const uint32_t bit = (uint32_t)1 << ((t->s[at] - 'A') & 31);

		seen = first >> at & 1 ? t->denied : seen;
		twice |= seen & bit;
		seen |= bit;
	}
	bad = (twice ? wrong(t, letters) : 0) | (t->denied & bit_g ? t->is->g : 0);
	t->seen = t->is->lf > letters ? 0 : seen & ~t->denied;
	return bad | pointless(t, letters);
}

/* The number of the N at s, digits without point; -1 when it is none that fits. */
static int64_t sequence(const struct nc_plain_allowed *allowed, const char *s)
{
	uint32_t value = 0;
	unsigned n = 0, x;

	for (; (x = (unsigned char)s[n + 1] - (unsigned)'0') < 10 && n < 8; n++)
		value = value * 10 + x;
	return !n || x < 10 || s[n + 1] == '.' || value > allowed->sequence_max ? -1
	                                                                        : (int64_t)value;
}

/* Take a block with this N number, or -1, into the run. False when the progression is broken. */
static inline bool goes_on(struct nc_plain *run, int64_t number)
{
	if (!run->blocks) {
		run->first = number;
		run->step = 0;
		return true;
	}
	if (number < 0)
		return true;
	if (run->blocks == 1 && number >= run->first)
		run->step = (uint32_t)(number - run->first);
	return number == run->first + (int64_t)run->blocks * run->step;
}

/* Take the block that ends in the LF at end. False when the run ends before it. */
static inline bool take(
    const struct state *t, struct nc_plain *run, struct nc_plain_text *block, const char *end)
{
	const char *s = run->text + run->bytes;
	const size_t crlf = end[-1] == '\r', length = (size_t)(end - s) - crlf;
	int64_t number = -1;

	if (t->numbered) {
		number = *s == 'N' ? sequence(t->allowed, s) : -1;
		if (number < 0)
			return false;
	}
	if (length > TEXT_MAX || length > t->allowed->block_max || run->blocks == NC_PLAIN_MAX ||
	    !goes_on(run, number))
		return false;
	block[run->blocks++] = (struct nc_plain_text){(uint32_t)run->bytes, (uint32_t)length};
	run->bytes += length + crlf + 1;
	run->crlf += crlf;
	return true;
}

void nc_plain_read(struct nc_plain *run, struct nc_plain_text block[NC_PLAIN_MAX],
    const struct nc_plain_allowed *allowed, const char *s, const char *stop)
{
	/* as if a line had ended before s */
	struct nc_plain_mask mask[2] = {{0}, {.lf = (uint64_t)1 << 63}};
	struct state t = {.allowed = allowed,
	    .denied = ~allowed->letters | bit_n,
	    .numbered = s < stop && *s == 'N',
	    .is = &mask[1],
	    .was = &mask[0]};
	uint64_t bad = 0;

	run->text = s;
	run->block = block;
	run->blocks = run->bytes = run->crlf = 0;
	if (t.numbered && !(allowed->letters & bit_n))
		return;
	for (unsigned i = 0; stop - s >= NC_PLAIN_SPAN && !bad; s += NC_PLAIN_SPAN, i ^= 1) {
		t.s = s;
		t.was = t.is;
		t.is = &mask[i];
		nc_plain_mask(&mask[i], s);
		bad = broken(&t) | unwanted(&t);
		for (uint64_t ends = t.is->lf & ((bad & -bad) - 1); ends; ends &= ends - 1)
			if (!take(&t, run, block, s + __builtin_ctzll(ends)))
				return;
	}
}
