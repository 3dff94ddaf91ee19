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

struct nc_plain_mask {
	uint64_t letter;        /* A to Z */
	uint64_t g;             /* of them, G */
	uint64_t digit;         /* 0 to 9 */
	uint64_t low, zero;     /* of them, 0 to 3, and 0 */
	uint64_t point, sign;   /* . and + - */
	uint64_t blank, lf, cr; /* no tabs */
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
		m->zero |= c == '0' ? bit : 0;
		m->point |= c == '.' ? bit : 0;
		m->sign |= c == '+' || c == '-' ? bit : 0;
		m->blank |= c == ' ' ? bit : 0;
		m->lf |= c == '\n' ? bit : 0;
		m->cr |= c == '\r' ? bit : 0;
	}
}

#ifdef __SSE2__

/* Bytes from low to low + more, as a mask of 16 bits. */
static inline uint64_t nc_plain_range(__m128i v, char low, char more)
{
	__m128i u = _mm_sub_epi8(v, _mm_set1_epi8(low));

	return (uint64_t)_mm_movemask_epi8(_mm_cmpeq_epi8(_mm_min_epu8(u, _mm_set1_epi8(more)), u));
}

static inline uint64_t nc_plain_equal(__m128i v, char c)
{
	return (uint64_t)_mm_movemask_epi8(_mm_cmpeq_epi8(v, _mm_set1_epi8(c)));
}

static inline void nc_plain_mask(struct nc_plain_mask *m, const char *s)
{
	*m = (struct nc_plain_mask){0};
#pragma GCC unroll 4
	for (unsigned i = 0; i < NC_PLAIN_SPAN; i += 16) {
		const __m128i v = _mm_loadu_si128((const __m128i *)(const void *)(s + i));

		m->letter |= nc_plain_range(v, 'A', 'Z' - 'A') << i;
		m->g |= nc_plain_equal(v, 'G') << i;
		m->digit |= nc_plain_range(v, '0', 9) << i;
		m->low |= nc_plain_range(v, '0', 3) << i;
		m->zero |= nc_plain_equal(v, '0') << i;
		m->point |= nc_plain_equal(v, '.') << i;
		m->sign |= (nc_plain_equal(v, '+') | nc_plain_equal(v, '-')) << i;
		m->blank |= nc_plain_equal(v, ' ') << i;
		m->lf |= nc_plain_equal(v, '\n') << i;
		m->cr |= nc_plain_equal(v, '\r') << i;
	}
}

#else

static inline void nc_plain_mask(struct nc_plain_mask *m, const char *s)
{
	nc_plain_mask_bytes(m, s);
}

#endif

#endif
