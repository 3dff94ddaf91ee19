/* Goal: a call from the machine's keyboard is read as it was meant, or refused with its reason; and
 * no program is ever taken for a call. The form of a call is our own: there is no outside source. */
#include "wire_test.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "call.h"

static const struct call_words words = CALL_WORDS_DEFAULT;

static enum call_fault read_text(const char *text, struct call *c)
{
	return call_read(text, strlen(text), &words, c);
}

static void what_can_be_asked(void **state)
{
	static const struct {
		const char *comment;
		enum call_kind kind;
		const char *job, *revision, *badge;
	} rows[] = {
	    {"(YOKE BRING J4417)", CALL_BRING, "J4417", "", ""},
	    {"(YOKE BRING J4417 REV C)", CALL_BRING, "J4417", "C", ""},
	    {"(YOKE BRING J4417 REV C BADGE 17)", CALL_BRING, "J4417", "C", "17"},
	    {"(YOKE BRING J4417 BADGE 17)", CALL_BRING, "J4417", "", "17"},
	    {"( yoke  Bring\tJ4417 )", CALL_BRING, "J4417", "", ""},
	    {"(YOKE BRING REV REV REV)", CALL_BRING, "REV", "REV", ""},
	    {"(YOKE LAST GOOD)", CALL_LAST_GOOD, "", "", ""},
	    {"(YOKE LAST GOOD BADGE 4711)", CALL_LAST_GOOD, "", "", "4711"},
	    {"(YOKE PROVEN)", CALL_PROVEN, "", "", ""},
	    {"(YOKE PROVEN J4417 REV C)", CALL_PROVEN, "J4417", "C", ""},
	    {"(YOKE PROVEN BADGE 9)", CALL_PROVEN, "", "", "9"},
	    {";YOKE LAST GOOD", CALL_LAST_GOOD, "", "", ""},
	    {"N10 (CALL) (YOKE LAST GOOD) (PLEASE)", CALL_LAST_GOOD, "", "", ""},
	};
	char text[200];
	struct call c;

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		snprintf(text, sizeof text, "%%\nO9999\n%s\nM30\n%%\n", rows[i].comment);
		assert_int_equal(read_text(text, &c), CALL_OK);
		assert_int_equal(c.kind, rows[i].kind);
		assert_string_equal(c.job, rows[i].job);
		assert_string_equal(c.revision, rows[i].revision);
		assert_string_equal(c.badge, rows[i].badge);
		assert_int_equal(c.line, 3);
	}
}

static void what_is_wrong_with_it(void **state)
{
	static const struct {
		const char *text;
		enum call_fault fault;
		unsigned line;
	} rows[] = {
	    {"", CALL_NONE, 0},
	    {"%\nO1(BUSH)\nG0X1.\nM30\n%\n", CALL_NONE, 0},
	    {"%\nO1(BRING J4417 YOKE)\nM30\n%\n", CALL_NONE, 0},
	    {"%\nO1(YOKES BRING J4417)\nM30\n%\n", CALL_NONE, 0},
	    {"%\n(YOKE LAST GOOD)\n(YOKE PROVEN)\n%\n", CALL_TWO, 3},
	    {"%\nO1(YOKE LAST GOOD)\nG0 X1.\nM30\n%\n", CALL_OTHER, 3},
	    {"%\nO1(YOKE LAST GOOD)\nM3\n%\n", CALL_OTHER, 3},
	    {"%\nO1(YOKE LAST GOOD)\n/M30\n%\n", CALL_OTHER, 3},
	    {"%\nO1(YOKE LAST GOOD) #1\n%\n", CALL_OTHER, 2},
	    {"%\nO (YOKE LAST GOOD)\n%\n", CALL_OTHER, 2},
	    {"%\n(YOKE LAST GOOD\n%\n", CALL_UNCLOSED, 2},
	    {"%\n(YOKE)\n%\n", CALL_UNKNOWN, 2},
	    {"%\n(YOKE LAST)\n%\n", CALL_UNKNOWN, 2},
	    {"%\n(YOKE LASTGOOD)\n%\n", CALL_UNKNOWN, 2},
	    {"%\n(YOKE BRING)\n%\n", CALL_NO_JOB, 2},
	    {"%\n(YOKE BRING BADGE 5)\n%\n", CALL_NO_JOB, 2},
	    {"%\n(YOKE BRING J1 REV)\n%\n", CALL_NO_VALUE, 2},
	    {"%\n(YOKE PROVEN BADGE)\n%\n", CALL_NO_VALUE, 2},
	    {"%\n(YOKE BRING J1 J2)\n%\n", CALL_REST, 2},
	    {"%\n(YOKE LAST GOOD J1)\n%\n", CALL_REST, 2},
	    {"%\n(YOKE BRING J1 BADGE 5 REV C)\n%\n", CALL_REST, 2},
	    /* A revision that is lost would mean the newest one. */
	    {"%\n(YOKE BRING J1 REV \xC3)\n%\n", CALL_BYTE, 2},
	    {"%\n;YOKE BRING J1 REV (C)\n%\n", CALL_BYTE, 2},
	    {"%\n(YOKE PROVEN BADGE 12345678901234567890123456789012)\n%\n", CALL_LONG, 2},
	};
	struct call c;

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		assert_int_equal(read_text(rows[i].text, &c), rows[i].fault);
		assert_int_equal(c.line, rows[i].line);
		assert_true(strlen(call_says(rows[i].fault)) > 10);
	}
}

static void a_long_text_is_none(void **state)
{
	char text[400] = "(YOKE LAST GOOD)\n";
	struct call c;

	for (int i = 0; i < CALL_LINES_MAX - 1; i++)
		strcat(text, "N1\n");
	assert_int_equal(read_text(text, &c), CALL_OK);
	strcat(text, "N1\n");
	assert_int_equal(read_text(text, &c), CALL_OTHER);
}

static void words_of_the_shop(void **state)
{
	struct call_words own = {"X1", "HOLE", "LETZTES PAAR", "GUT", "STAND", "MARKE"}, bad;
	const char *text = "%\n(X1 LETZTES PAAR MARKE 3)\n%";
	struct call c;

	assert_null(call_words_wrong(&words));
	assert_null(call_words_wrong(&own));
	assert_int_equal(call_read(text, strlen(text), &own, &c), CALL_OK);
	assert_int_equal(c.kind, CALL_LAST_GOOD);
	assert_string_equal(c.badge, "3");
	bad = own;
	strcpy(bad.proven, "HOLE NEU");
	assert_non_null(call_words_wrong(&bad));
	bad = own;
	strcpy(bad.badge, "stand");
	assert_non_null(call_words_wrong(&bad));
	bad = own;
	strcpy(bad.mark, " ");
	assert_non_null(call_words_wrong(&bad));
	bad = own;
	strcpy(bad.mark, "A(B");
	assert_non_null(call_words_wrong(&bad));
}

/* Whatever comes: nothing beyond the text is read, and a text with a motion word is no call. */
static void any_text(void **state)
{
	static const char *const pieces[] = {"%", "\n", "(YOKE", " BRING", " J1", ")", "M30", "O1",
	    "G0", ";", " LAST GOOD", " BADGE", "X1.", "(", " ", "REV", "\t", "N5", "99"};
	enum { PIECES = sizeof pieces / sizeof *pieces };
	struct call c;

	srand(4417);
	for (int turn = 0; turn < 100000; turn++) {
		char text[160] = "", *exact;
		size_t n;
		bool moves = false;
		enum call_fault f;

		for (int k = rand() % 14; k > 0; k--)
			strcat(text, pieces[rand() % PIECES]);
		n = strlen(text);
		exact = malloc(n ? n : 1);
		assert_non_null(exact);
		memcpy(exact, text, n);
		f = call_read(exact, n, &words, &c);
		free(exact);
		/* Outside of comments, as the text was put together. */
		for (const char *s = text, *in = ""; *s; s++) {
			if (*s == '\n' || (*in == '(' && *s == ')'))
				in = "";
			else if (!*in && (*s == '(' || *s == ';'))
				in = s;
			else if (!*in && *s == 'G')
				moves = true;
		}
		if (moves)
			assert_int_not_equal(f, CALL_OK);
		if (f == CALL_OK && c.kind == CALL_BRING)
			assert_true(*c.job);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_can_be_asked),
	    cmocka_unit_test(what_is_wrong_with_it),
	    cmocka_unit_test(a_long_text_is_none),
	    cmocka_unit_test(words_of_the_shop),
	    cmocka_unit_test(any_text),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
