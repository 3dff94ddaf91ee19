/* Goal: what a control may add or change compares equal, anything else does not, and damage is
 * told. */
#include "wire_test.h"

#include <stdlib.h>
#include <string.h>
#include "canonical.h"

static void becomes(const void *program, size_t n, const char *expected)
{
	struct canonical c;

	assert_int_equal(canonical_make(&c, program, n), 0);
	assert_int_equal(c.size, strlen(expected));
	if (c.size > 0)
		assert_memory_equal(c.bytes, expected, c.size);
	assert_int_equal(c.nuls, 0);
	assert_int_equal(c.damage_line, 0);
	canonical_free(&c);
	assert_null(c.bytes);
}

static void each_rule(void **state)
{
	becomes(BYTES(""), "");
	becomes(BYTES("\0\0\x7F\n\r\n \t"), "");
	becomes(BYTES("%\nM30\n%\n"), "%\nM30\n%\n");
	becomes(BYTES("%\nM30\n%"), "%\nM30\n%\n");
	becomes(BYTES("%\r\nM30\r\n%\r\n"), "%\nM30\n%\n");
	becomes(BYTES("%\n\r\rM30\n\r\r%\n\r\r"), "%\nM30\n%\n");
	becomes(BYTES("%\r\r\nM30\r\r\n%\r\r\n"), "%\nM30\n%\n");
	becomes(BYTES("%\rM30\r%\r"), "%\nM30\n%\n");
	becomes(BYTES("%\nM30 \t\n%  \n"), "%\nM30\n%\n");
	becomes(BYTES("\n\r\n%\nM30\n%\n\n\r\n"), "%\nM30\n%\n");
	becomes(BYTES("%\nM30\n%\n\x1A"), "%\nM30\n%\n");
	becomes(BYTES("%\nM30\n%\n\x1A\x1A\0\0"), "%\nM30\n%\n");
	becomes(BYTES("\x12\0\0%\nM30\n%\n\0\0\x14"), "%\nM30\n%\n");
	becomes(BYTES("%\n\x7F\x7FM30\x7F\n%\n"), "%\nM30\n%\n");
	/* Trailer and leader between two texts. */
	becomes(BYTES("%\nM30\n%\n\0\0\x1A\n \x7F\0%\nM2\n%\n"), "%\nM30\n%\n%\nM2\n%\n");
	becomes(BYTES("%\nM30\n%\n\n \n%\nM2\n%\n"), "%\nM30\n%\n\n\n%\nM2\n%\n");
}

static void nothing_inside_blocks(void **state)
{
	becomes(BYTES("%\nG0  X1 \x7FY2\t(A  B)\n%"), "%\nG0  X1 \x7FY2\t(A  B)\n%\n");
	becomes(BYTES("%\n  G0\n%"), "%\n  G0\n%\n");
	becomes(BYTES("%\n\nG0\n\n\nM30\n%"), "%\n\nG0\n\n\nM30\n%\n");
	becomes(BYTES("  %\nM30\n"), "  %\nM30\n");
	becomes(BYTES("%\n(30\xC2\xB0)\n%"), "%\n(30\xC2\xB0)\n%\n");
}

/* The trade's case "leader, trailer, filler bytes": 120 NUL before, 80 times NUL DEL after. */
static void punched(uint8_t *to, size_t *n, const char *body, size_t size)
{
	memset(to, 0, 120);
	memcpy(to + 120, body, size);
	*n = 120 + size;
	for (int i = 0; i < 80; i++) {
		to[(*n)++] = 0x00;
		to[(*n)++] = 0x7F;
	}
}

static void leader_and_trailer(void **state)
{
	static const char sent[] = "%\nO4417(BUSH)\nG0X40.\nM30\n%\n";
	struct canonical a, b, c;
	uint8_t back[512];
	size_t n;

	assert_int_equal(canonical_make(&a, BYTES(sent)), 0);
	punched(back, &n, BYTES("%\r\nO4417(BUSH)\r\nG0X40.\r\nM30\r\n%\r\n"));
	assert_int_equal(canonical_make(&b, back, n), 0);
	assert_int_equal(canonical_difference(&a, &b), 0);
	assert_int_equal(b.nuls, 0);

	punched(back, &n, BYTES("%\r\nO4417(BUSH)\r\nG0X4\0000.\r\nM30\r\n%\r\n"));
	assert_int_equal(canonical_make(&c, back, n), 0);
	assert_int_equal(canonical_difference(&a, &c), 3);
	assert_int_equal(c.nuls, 1);
	assert_int_equal(c.damage_line, 3);
	canonical_free(&a);
	canonical_free(&b);
	canonical_free(&c);
}

static void where_it_differs(void **state)
{
	struct canonical a = {0}, b = {0};

	assert_int_equal(canonical_difference(&a, &b), 0);
	canonical_make(&a, BYTES("%\nG1 F0.1\nM30\n%\n"));
	assert_int_equal(canonical_difference(&a, &b), 1);
	canonical_make(&b, BYTES("%\nG1 F0.2\nM30\n%\n"));
	assert_int_equal(canonical_difference(&a, &b), 2);
	assert_int_equal(canonical_difference(&b, &a), 2);
	canonical_free(&b);
	canonical_make(&b, BYTES("%\nG1 F0.1\nM30\n"));
	assert_int_equal(canonical_difference(&a, &b), 4);
	canonical_free(&a);
	canonical_free(&b);
}

/* A canonical form is its own canonical form, whatever it came from. */
static void twice_is_once(void **state)
{
	static const uint8_t alphabet[] = "%GX1 \t\n\r\0\x7F\x1A\x11\x14(\xA5";
	uint32_t seed = 4417;

	for (int round = 0; round < 5000; round++) {
		uint8_t program[64];
		size_t n = chance(&seed) % sizeof(program);
		struct canonical once, twice;

		for (size_t i = 0; i < n; i++)
			program[i] = alphabet[chance(&seed) % (sizeof(alphabet) - 1)];
		assert_int_equal(canonical_make(&once, program, n), 0);
		assert_true(once.size <= n + 1);
		assert_int_equal(
		    canonical_make(&twice, once.bytes ? once.bytes : program, once.size), 0);
		assert_int_equal(canonical_difference(&once, &twice), 0);
		assert_int_equal(once.nuls, twice.nuls);
		canonical_free(&once);
		canonical_free(&twice);
	}
}

/* A run of a million CRs once cost the square of its length. */
static void long_runs(void **state)
{
	size_t n = 1 << 22;
	uint8_t *p = malloc(n);
	struct canonical c;

	assert_non_null(p);
	memset(p, '\r', n);
	p[0] = p[n - 1] = '%';
	assert_int_equal(canonical_make(&c, p, n), 0);
	assert_int_equal(c.size, 4);
	assert_memory_equal(c.bytes, "%\n%\n", 4);
	canonical_free(&c);
	free(p);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_rule),
	    cmocka_unit_test(nothing_inside_blocks),
	    cmocka_unit_test(leader_and_trailer),
	    cmocka_unit_test(where_it_differs),
	    cmocka_unit_test(twice_is_once),
	    cmocka_unit_test(long_runs),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
