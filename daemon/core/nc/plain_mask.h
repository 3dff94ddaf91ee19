/*
 * What each of 64 bytes is, as bit masks: bit i for the i-th byte. With the instructions that every
 * amd64 has, and without them elsewhere; both give the same.
 */
#ifndef NC_PLAIN_MASK_H
#define NC_PLAIN_MASK_H

#include <stdint.h>
#include <string.h>
#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { NC_PLAIN_SPAN = 64 };

/* What most programs need; the rest is asked for when it matters. */
struct nc_plain_mask {
	uint64_t letter;      /* A to Z */
	uint64_t g;           /* of them, G */
	uint64_t digit, low;  /* 0 to 9; of them, 0 to 3 */
	uint64_t point, sign; /* . and + - */
	uint64_t blank, lf;   /* no tabs */
};

/* Byte by byte, on any machine. */
static inline void nc_plain_mask_bytes(struct nc_plain_mask *m, const char *s)
{
	*m = (struct nc_plain_mask){0};
	for (unsigned i = 0; i < NC_PLAIN_SPAN; i++) {
		const uint64_t bit = (uint64_t)1 << i;
		const char c = s[i];

		m->letter |= c >= 'A' && c <= 'Z' ? bit : 0;
		m->g |= c == 'G' ? bit : 0;
		m->digit |= c >= '0' && c <= '9' ? bit : 0;
		m->low |= c >= '0' && c <= '3' ? bit : 0;
		m->point |= c == '.' ? bit : 0;
		m->sign |= c == '+' || c == '-' ? bit : 0;
		m->blank |= c == ' ' ? bit : 0;
		m->lf |= c == '\n' ? bit : 0;
	}
}

static inline uint64_t nc_plain_each_bytes(const char *s, char c)
{
	uint64_t mask = 0;

	for (unsigned i = 0; i < NC_PLAIN_SPAN; i++)
		mask |= (uint64_t)(s[i] == c) << i;
	return mask;
}

#ifdef __SSE2__

/* A bit for each byte of v that is not 0. */
static inline uint64_t nc_plain_bits(__m128i v, unsigned at)
{
	return (uint64_t)_mm_movemask_epi8(v) << at;
}

/* Bytes from low to low + more. */
static inline __m128i nc_plain_range(__m128i v, char low, char more)
{
	__m128i u = _mm_sub_epi8(v, _mm_set1_epi8(low));

	return _mm_cmpeq_epi8(_mm_min_epu8(u, _mm_set1_epi8(more)), u);
}

static inline __m128i nc_plain_equal(__m128i v, char c)
{
	return _mm_cmpeq_epi8(v, _mm_set1_epi8(c));
}

static inline __m128i nc_plain_load(const char *s)
{
	return _mm_loadu_si128((const __m128i *)(const void *)s);
}

static inline void nc_plain_mask(struct nc_plain_mask *m, const char *s)
{
	*m = (struct nc_plain_mask){0};
#pragma GCC unroll 4
	for (unsigned i = 0; i < NC_PLAIN_SPAN; i += 16) {
		const __m128i v = nc_plain_load(s + i);
		const __m128i plus = nc_plain_equal(v, '+'), minus = nc_plain_equal(v, '-');

		m->letter |= nc_plain_bits(nc_plain_range(v, 'A', 'Z' - 'A'), i);
		m->g |= nc_plain_bits(nc_plain_equal(v, 'G'), i);
		m->digit |= nc_plain_bits(nc_plain_range(v, '0', 9), i);
		m->low |= nc_plain_bits(nc_plain_range(v, '0', 3), i);
		m->point |= nc_plain_bits(nc_plain_equal(v, '.'), i);
		m->sign |= nc_plain_bits(_mm_or_si128(plus, minus), i);
		m->blank |= nc_plain_bits(nc_plain_equal(v, ' '), i);
		m->lf |= nc_plain_bits(nc_plain_equal(v, '\n'), i);
	}
}

/* Where c stands. */
static inline uint64_t nc_plain_each(const char *s, char c)
{
	uint64_t mask = 0;

	for (unsigned i = 0; i < NC_PLAIN_SPAN; i += 16)
		mask |= nc_plain_bits(nc_plain_equal(nc_plain_load(s + i), c), i);
	return mask;
}

#else

static inline void nc_plain_mask(struct nc_plain_mask *m, const char *s)
{
	nc_plain_mask_bytes(m, s);
}

static inline uint64_t nc_plain_each(const char *s, char c)
{
	return nc_plain_each_bytes(s, c);
}

#endif

#endif
