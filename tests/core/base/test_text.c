/* Goal: text grows as it is added to, and shows nothing to a terminal that the terminal could obey.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "yoke/text.h"

static void grows(void **state)
{
	struct text t = {0};

	text_puts(&t, "wait");
	text_putc(&t, ' ');
	text_printf(&t, "M%d", 203);
	text_add(&t, "", 0);
	assert_string_equal(t.s, "wait M203");
	assert_int_equal(t.n, 9);
	for (int i = 0; i < 10000; i++)
		text_printf(&t, "%04d", i);
	assert_int_equal(t.n, 9 + 40000);
	assert_int_equal(t.s[t.n], '\0');
	assert_string_equal(t.s + t.n - 4, "9999");
	text_free(&t);
	assert_null(t.s);
}

static void takes(void **state)
{
	struct text t = {0};
	char *s = text_take(&t);

	assert_string_equal(s, "");
	free(s);
	text_puts(&t, "x");
	s = text_take(&t);
	assert_string_equal(s, "x");
	assert_int_equal(t.n, 0);
	free(s);
}

/* A failure is remembered: nothing more is added, and nothing incomplete is handed over. */
static void fails(void **state)
{
	struct text t = {0};

	text_puts(&t, "x");
	text_add(&t, "y", SIZE_MAX / 2);
	assert_true(t.failed);
	text_puts(&t, "z");
	assert_string_equal(t.s, "x");
	assert_null(text_take(&t));
	assert_false(t.failed);
}

static void visible(void **state)
{
	static const struct {
		const char *in;
		size_t n;
		const char *out;
	} table[] = {
	    {"G0 X1.", 6, "G0 X1."},
	    {"a\r\n\t\0b", 6, "a<0D><0A><09><00>b"},
	    {"\x1B[2J\x7F", 5, "<1B>[2J<7F>"},
	    /* well-formed UTF-8 (Unicode 15, table 3-7) stays */
	    {"30\xC2\xB0 \xE2\x80\x9C\xF0\x9F\x94\xA7", 12,
	        "30\xC2\xB0 \xE2\x80\x9C\xF0\x9F\x94\xA7"},
	    /* a lone byte, an overlong form, a surrogate, beyond the last character, cut off */
	    {"\xB0", 1, "<B0>"},
	    {"\xC0\xAF", 2, "<C0><AF>"},
	    {"\xE0\x80\xAF", 3, "<E0><80><AF>"},
	    {"\xED\xA0\x80", 3, "<ED><A0><80>"},
	    {"\xF4\x90\x80\x80", 4, "<F4><90><80><80>"},
	    {"\xE2\x80", 2, "<E2><80>"},
	    /* C1 control sequence introducer, right-to-left override, zero-width space, byte-order
	       mark */
	    {"\xC2\x9B", 2, "<C2><9B>"},
	    {"\xE2\x80\xAE", 3, "<E2><80><AE>"},
	    {"\xE2\x80\x8B", 3, "<E2><80><8B>"},
	    {"\xEF\xBB\xBF", 3, "<EF><BB><BF>"},
	};

	for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
		struct text t = {0};
		text_visible(&t, table[i].in, table[i].n);
		assert_string_equal(t.s, table[i].out);
		text_free(&t);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(grows),
	    cmocka_unit_test(takes),
	    cmocka_unit_test(fails),
	    cmocka_unit_test(visible),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
