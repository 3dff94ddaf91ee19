/*
 * 64 bytes at a time, from the beginning of a block on: what each byte is becomes a bit, and the
 * grammar of plain blocks becomes arithmetic with these bits. What lies behind the last line end in
 * the 64 bytes is looked at again with what follows it.
 */
#include "plain.h"

#include "plain_mask.h"

static const uint32_t bit_g = 1u << ('G' - 'A'), bit_n = 1u << ('N' - 'A');

/* The byte behind each run of bytes in set that begins in from: carries run through it. */
static inline uint64_t behind(uint64_t set, uint64_t from)
{
	return (set + (from & set)) & ~set;
}

/* Bits at which the structure of the blocks is broken; bits behind the last line end mean nothing.
 */
static inline uint64_t broken(const struct nc_plain_mask *m)
{
	const uint64_t number = m->digit | m->point;
	const uint64_t begin = m->lf << 1 | 1;
	uint64_t bad, many;

	bad = ~(m->letter | number | m->sign | m->blank | m->lf | m->cr);
	bad |= begin & ~m->letter;
	bad |= m->letter & ~((m->sign | number) >> 1);
	bad |= m->sign & ~(m->letter << 1 & number >> 1);
	bad |= number & m->blank << 1;
	bad |= m->cr & ~(m->lf >> 1);
	/* one point, and a digit beside it */
	bad |= m->point & ~(m->digit << 1 | m->digit >> 1);
	bad |= m->point & (m->point << 1 | behind(m->digit, m->point << 1));
	/* no 16 in a row: what fits exactly is not asked here */
	many = number & number >> 1;
	many &= many >> 2;
	many &= many >> 4;
	bad |= many & many >> 8;
	/* G0 to G3, G00 to G03 */
	bad |=
	    m->g & ~(m->low >> 1 & ~(number >> 2)) & ~(m->zero >> 1 & m->low >> 2 & ~(number >> 3));
	return bad;
}

/* Bits behind numbers that lack the point they want: not those that are zero. */
static inline uint64_t pointless(const struct nc_plain_mask *m, uint64_t letters)
{
	uint64_t from = letters << 1;

	from = (from & ~m->sign) | (from & m->sign) << 1;
	return behind(m->digit, from) & ~m->point & ~behind(m->zero, from);
}

/* True when the blocks whose bytes are in within are plain, their N numbers apart. */
static bool fits(const struct nc_plain_mask *m, const struct nc_plain_allowed *allowed,
    const char *s, uint64_t within)
{
	const uint64_t begin = m->lf << 1 | 1;
	uint64_t wanting = 0;
	uint32_t all = 0, twice = 0, seen = 0;

	if (broken(m) & within)
		return false;
	for (uint64_t rest = m->letter & within; rest; rest &= rest - 1) {
		const unsigned at = (unsigned)__builtin_ctzll(rest);
		const unsigned letter = (unsigned)(s[at] - 'A');
		const uint32_t bit = (uint32_t)1 << letter;

		seen &= (uint32_t)(begin >> at & 1) - 1;
		twice |= seen & bit;
		seen |= bit | bit_n; /* N comes first or not at all */
		all |= bit;
		wanting |= (uint64_t)(allowed->points >> letter & 1) << at;
	}
	return !(twice & ~bit_g) && !(all & ~allowed->letters) && !(pointless(m, wanting) & within);
}

/* The number of the N at s, whose digits begin at bit at; -1 when it is none that fits. */
static int64_t sequence(const struct nc_plain_mask *m, const struct nc_plain_allowed *allowed,
    const char *s, unsigned at)
{
	const unsigned digits = (unsigned)__builtin_ctzll(~(m->digit >> at));
	uint32_t value = 0;

	if (!digits || digits > 8 || m->point >> (at + digits) & 1)
		return -1;
	for (unsigned i = 0; i < digits; i++)
		value = value * 10 + (uint32_t)(s[at + i] - '0');
	return value <= allowed->sequence_max ? (int64_t)value : -1;
}

/* Take a block with this N number, or -1, into the run. False when the progression is broken. */
static inline bool goes_on(struct nc_plain *run, int64_t number)
{
	if (!run->blocks) {
		run->first = number;
		run->step = 0;
		return true;
	}
	if (number < 0 || run->first < 0)
		return number < 0 && run->first < 0;
	if (run->blocks == 1 && number >= run->first)
		run->step = (uint32_t)(number - run->first);
	return number == run->first + (int64_t)run->blocks * run->step;
}

/* Take the blocks within one by one. False when the run ends here. */
static bool take(struct nc_plain *run, struct nc_plain_text *block, const struct nc_plain_mask *m,
    const struct nc_plain_allowed *allowed, const char *s, uint64_t within)
{
	unsigned from = 0;

	for (uint64_t ends = m->lf & within; ends; ends &= ends - 1) {
		const unsigned lf = (unsigned)__builtin_ctzll(ends);
		const unsigned cr = m->cr << 1 >> lf & 1;
		int64_t number = -1;

		if (s[from] == 'N') {
			number = sequence(m, allowed, s, from + 1);
			if (number < 0)
				return false;
		}
		if (lf - cr - from > allowed->block_max || run->blocks == NC_PLAIN_MAX ||
		    !goes_on(run, number))
			return false;
		block[run->blocks].at = (uint32_t)run->bytes;
		block[run->blocks++].length = lf - cr - from;
		run->bytes += lf + 1 - from;
		run->crlf += cr;
		from = lf + 1;
	}
	return true;
}

void nc_plain_read(struct nc_plain *run, struct nc_plain_text block[NC_PLAIN_MAX],
    const struct nc_plain_allowed *allowed, const char *s, const char *stop)
{
	struct nc_plain_mask m;
	uint64_t within;

	run->text = s;
	run->block = block;
	run->blocks = run->bytes = run->crlf = 0;
	while (stop - s >= NC_PLAIN_ROOM) {
		nc_plain_mask(&m, s);
		if (!m.lf)
			return;
		within = ~(uint64_t)0 >> __builtin_clzll(m.lf);
		if (!fits(&m, allowed, s, within)) {
			within = m.lf ^ (m.lf - 1);
			if (!fits(&m, allowed, s, within))
				return;
		}
		if (!take(run, block, &m, allowed, s, within))
			return;
		s = run->text + run->bytes;
	}
}
