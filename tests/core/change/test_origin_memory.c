/*
 * Goal: origins and new headers for which memory runs out, at any allocation, say so or are whole: a
 * block is never said to come from where it does not.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <stdlib.h>
#include <string.h>
#include "scarce.h"
#include "yoke/header.h"
#include "yoke/origin.h"
#include "yoke/text.h"

static struct profile profile;

static const char *const version[] = {
    "N10 G0 X1.\nT0101\nG1 Z-5. (CUT)\nM201\nG0 X2.\nN60 G1 Z-6. F0.2\nGOTO 10\nM30\n",
    "N100 G0 X1.\nG0 X2.\nN60 G1 Z-6. F0.25\nT0101\nG1 Z-5.\nM201\nGOTO 100\nM30\n",
    "G0 X1.\nG0 X2.\nN60 G1 Z-6. F0.3\nT0101\nG1 Z-5.\nM201\nM8\nM30\n",
};

static int put(void *ctx, const struct change_origin_place *p)
{
	text_printf(ctx, "%llu %u %llu;", (unsigned long long)p->line, p->version,
	    (unsigned long long)p->before_line);
	return 0;
}

/* What is found, or NULL when it said that memory ran out. The caller frees. */
static char *origins(void)
{
	static const char *const query[] = {"G0 X1.", "N60", "T0101", "G1 Z-5.", "M8", "M30"};
	struct change_origin *o = change_origin_new(&profile);
	struct text out = {0};
	bool good = o != NULL;

	for (size_t i = 0; i < 3 && good; i++)
		good = change_origin_add(o, version[i], strlen(version[i])) == 0;
	for (size_t i = 0; i < 6 && good; i++)
		good = change_origin_find(o, query[i], put, &out) > 0;
	change_origin_free(o);
	if (good && !out.failed)
		return text_take(&out);
	text_free(&out);
	return NULL;
}

static char *header(void)
{
	static const char from[] = "O1 (JOB J1 REV C UPPER)\nM98 P2\nM30\nO2 (JOB J1 REV C UPPER)\nM99\n";
	struct text out = {0};

	if (header_revise(&profile, from, strlen(from), "D", &out) == 1)
		return text_take(&out);
	text_free(&out);
	return NULL;
}

static void without_memory(char *(*make)(void))
{
	char *whole = make(), *out;
	long refused = 0;

	assert_non_null(whole);
	for (int once = 0; once < 2; once++)
		for (long n = 0;; n++) {
			bool struck;

			scarce_after(n, once);
			out = make();
			struck = scarce_struck();
			scarce_after(-1, false);
			if (out)
				assert_string_equal(out, whole);
			refused += !out;
			assert_true(out || struck);
			free(out);
			if (!struck)
				break;
		}
	assert_true(refused > 2);
	free(whole);
}

static void test_origin(void **state)
{
	without_memory(origins);
}

static void test_header(void **state)
{
	without_memory(header);
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(test_origin), cmocka_unit_test(test_header)};

	profile_defaults(&profile);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
