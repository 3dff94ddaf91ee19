/*
 * Goal: nothing that a file can hold crashes the check, hangs it, or is called agreement.
 */
#include <stdlib.h>
#include <time.h>
#include "pair_help.h"

enum { MB = 1 << 20 };

/* Check the bytes as both programs and as one, draw and print all of it; give the time back. */
static double judge(const char *bytes, size_t n, enum verdict *v)
{
	struct checked c = {0};
	const struct source s[] = {{"J4417.UP", bytes, n}, {"J4417.LO", bytes, n}};
	clock_t start = clock();
	struct text t = {0};

	pair_help_profile(&c.profile);
	pair_help_check(&c, s, 2);
	*v = pair_verdict(c.report);
	for (unsigned width = 0; width < 300; width += 37) {
		free(pair_help_ladder(&c, width, false));
		free(pair_help_ladder(&c, width, true));
	}
	pair_print_findings(pair_findings(c.report), &t);
	pair_print_summary(c.report, &t);
	text_free(&t);
	pair_help_free(&c);
	return (double)(clock() - start) / CLOCKS_PER_SEC;
}

/* A repeatable source of bytes (xorshift, Marsaglia 2003). */
static uint32_t next(uint32_t *x)
{
	*x ^= *x << 13;
	*x ^= *x >> 17;
	*x ^= *x << 5;
	return *x;
}

static void random_bytes(void **state)
{
	static char bytes[4096];
	enum verdict v;

	for (uint32_t seed = 1; seed <= 200; seed++) {
		uint32_t x = seed;

		for (size_t i = 0; i < sizeof(bytes); i++)
			bytes[i] = (char)(next(&x) >> 11);
		judge(bytes, 1 + next(&x) % sizeof(bytes), &v);
		assert_int_not_equal(v, VERDICT_AGREE);
	}
}

/* Bytes that programs are made of, in no order. */
static void random_words(void **state)
{
	static const char alphabet[] = "%O:N/0123456789M20M30M98P(GX.-#[]=IF)T;\n\n\n \r\t";
	static char bytes[4096];
	enum verdict v;

	for (uint32_t seed = 1; seed <= 400; seed++) {
		uint32_t x = seed;

		for (size_t i = 0; i < sizeof(bytes); i++)
			bytes[i] = alphabet[next(&x) % (sizeof(alphabet) - 1)];
		judge(bytes, 1 + next(&x) % sizeof(bytes), &v);
	}
}

static void ten_megabytes_of(const char *unit)
{
	size_t n = 10 * MB, k = strlen(unit);
	char *bytes = malloc(n);
	enum verdict v;
	double t;

	assert_non_null(bytes);
	for (size_t i = 0; i < n; i++)
		bytes[i] = unit[i % k];
	t = judge(bytes, n, &v);
	if (t > 20.0)
		fail_msg("10 MB of %s take %.1f s", unit, t);
	assert_int_not_equal(v, VERDICT_AGREE);
	free(bytes);
}

static void long_files(void **state)
{
	static const char *const unit[] = {"(", ")", "%", "%\n", "M", "M201", "M201\n", "O1\n",
	    "O1M98P1\n", "/", "[", "#", "X1", "X1\n", "\n", "\r", "\xff", "\xEF\xBB\xBF", "(M201\n",
	    "N1 GOTO1\n", ":", "M01\n", "(REV ", "(REV C)"};

	for (size_t i = 0; i < sizeof(unit) / sizeof(*unit); i++)
		ten_megabytes_of(unit[i]);
}

/* Half a million program numbers, all different, and all equal. */
static void many_numbers(void **state)
{
	struct text t = {0};
	enum verdict v;

	for (int i = 0; i < 500000; i++)
		text_printf(&t, "O%lld\nM99\n", i * 7919LL % 500009);
	assert_false(t.failed);
	assert_true(judge(t.s, t.n, &v) < 20.0);
	text_free(&t);
}

/* A wall of comments that nearly match the header. */
static void nearly_headers(void **state)
{
	struct text t = {0};
	enum verdict v;

	for (int i = 0; i < 15; i++) {
		for (int k = 0; k < 8000; k++)
			text_puts(&t, "REV REV ");
		text_puts(&t, "\n");
	}
	assert_true(judge(t.s, t.n, &v) < 5.0);
	text_free(&t);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(random_bytes),
	    cmocka_unit_test(random_words),
	    cmocka_unit_test(long_files),
	    cmocka_unit_test(many_numbers),
	    cmocka_unit_test(nearly_headers),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
