/*
 * Goal: what is put on a sheet comes out as text and as a page, whole: columns that are to be kept give
 * way last, lines within a cell stay lines, and no text of others becomes an element, an attribute or a
 * line of its own. Without memory there is no half of it.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include "scarce.h"
#include "yoke/sheet.h"

static const char *const columns[] = {"NO", "TIME", "WHAT"};

static void fill(struct sheet *s)
{
	sheet_add(s, SHEET_TITLE, "Job %s", "J<4417>");
	sheet_table(s, columns, 3);
	sheet_keep(s, 1);
	sheet_cell(s, "%d", 7);
	sheet_cell(s, "%s", "2031-04-05 22:07:08Z");
	sheet_line(s, "%s", "00:07 +0200");
	sheet_cell(s, "%s", "");
	sheet_line(s, "%s",
	    "a\n<script> that has come into the trail as somebody's name, and stays what it is there");
	sheet_line(s, "%s", "upper");
	sheet_add(s, SHEET_VERBATIM, "%s", "a line that is as long as it is, and stands alone, whatever the width may be");
	sheet_add(s, SHEET_VERBATIM, "%s", "");
	sheet_add(s, SHEET_VERBATIM, "%s", "+/=");
}

static char *print(unsigned width)
{
	struct sheet s = {0};
	struct text out = {0};

	fill(&s);
	sheet_print(&s, width, &out);
	sheet_free(&s);
	return text_take(&out);
}

static char *html(void)
{
	struct sheet s = {0};
	struct text out = {0};

	fill(&s);
	sheet_html(&s, &out);
	sheet_free(&s);
	return text_take(&out);
}

static void as_text(void **state)
{
	char *s = print(60);

	assert_string_equal(s, "Job J<4417>\n"
	                       "===========\n"
	                       "\n"
	                       "NO  TIME                  WHAT\n"
	                       "--  --------------------  ----------------------------------\n"
	                       "7   2031-04-05 22:07:08Z  a<0A><script> that has come into\n"
	                       "    00:07 +0200           the trail as somebody's name, and\n"
	                       "                          stays what it is there\n"
	                       "                          upper\n"
	                       "\n"
	                       "a line that is as long as it is, and stands alone, whatever the width may be\n"
	                       "\n"
	                       "+/=\n");
	free(s);
}

static void as_a_page(void **state)
{
	char *s = html();

	assert_non_null(strstr(s, "<title>Job J&lt;4417&gt;</title>"));
	assert_non_null(strstr(s, "<tr><th scope=\"col\">NO</th><th scope=\"col\" class=\"keep\">TIME"
	                          "</th><th scope=\"col\">WHAT</th></tr>"));
	assert_non_null(strstr(s, "<tr><th scope=\"row\">7</th><td class=\"keep\">2031-04-05 22:07:08Z"
	                          "<br>00:07 +0200</td><td>a&lt;0A&gt;&lt;script&gt; that"));
	assert_non_null(strstr(s, "there<br>upper</td></tr>"));
	assert_non_null(strstr(s, "<pre>\na line that is as long as it is, and stands alone, whatever the width may "
	                          "be\n\n+/=\n</pre>\n</main>"));
	assert_null(strstr(s, "<script"));
	assert_null(strstr(s, "://"));
	free(s);
}

static char *print_60(void)
{
	return print(60);
}

static void without_memory(void **state)
{
	char *(*const makes[])(void) = {print_60, html};

	for (size_t i = 0; i < 2; i++) {
		char *whole = makes[i](), *out;
		long n = 0, refused;

		assert_non_null(whole);
		do {
			scarce_after(n++, false);
			out = makes[i]();
			scarce_after(-1, false);
			refused = !out;
			if (out)
				assert_string_equal(out, whole);
			free(out);
		} while (refused);
		assert_true(n > 10);
		free(whole);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(as_text),
	    cmocka_unit_test(as_a_page),
	    cmocka_unit_test(without_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
