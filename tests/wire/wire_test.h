/* What every test of the wire needs: cmocka with what it wants included first, and a seeded source
 * of chance. */
#ifndef WIRE_TEST_H
#define WIRE_TEST_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

/* A string constant as bytes and their number; NULs inside count. */
#define BYTES(s) (s), sizeof(s) - 1

/* Next number of a xorshift sequence; *seed must not be 0. */
static inline uint32_t chance(uint32_t *seed)
{
	*seed ^= *seed << 13;
	*seed ^= *seed >> 17;
	*seed ^= *seed << 5;
	return *seed;
}

#endif
