/*
 * Goal: names of programs and waits written as calls are read where they may stand, each in its
 * place; where they may not, or are damaged, a fault says so. Both are common practice of the
 * controls that have them: no standard tells of either.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "dump.h"

struct row {
	const char *line, *words, *faults;
};

static void walk(const struct row *row, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		char words[200];

		strcpy(words, dump_words(row[i].line));
		if (strcmp(words, row[i].words) != 0)
			fail_msg("%s: words %s, not %s", row[i].line, words, row[i].words);
		if (strcmp(dump_faults(row[i].line), row[i].faults) != 0)
			fail_msg("%s: faults %s, not %s", row[i].line, dump_faults(row[i].line),
			    row[i].faults);
	}
}

#define WALK(rows) walk(rows, sizeof(rows) / sizeof(*(rows)))

static void names(void **state)
{
	static const struct row rows[] = {
	    {"O<BUSH-12>", "O<BUSH-12>", ""},
	    {"O <BUSH> (PART)", "O<BUSH>", ""},
	    {"N5 M98 <BUSH> L2", "N5 M98 O<BUSH> L2", ""},
	    {"M98<A.B_C+D>", "M98 O<A.B_C+D>", ""},
	    {"G65 <PROBE> A1.5", "G65 O<PROBE> A1.5", ""},
	    {"%O<BUSH>", "O<BUSH>", ""},
	    /* letters in a name are no words, and no keyword */
	    {"O<IF X1 M30 #1>", "O<IF X1 M30 #1>", ""},
	    {"M98 <bush>", "M98 O<bush>", "lower@6x4"},
	};

	WALK(rows);
}

static void damaged_names(void **state)
{
	static const struct row rows[] = {
	    {"O<BUSH", "", "word@2x1"},
	    {"O<>", "", "word@2x1"},
	    {"O<A<B>", "", "word@2x1 character@4x2 number@5x1"},
	    {"M98 <A> <B>", "M98 O<A>", "character@9x2 number@10x1"},
	    {"<BUSH>", "", "character@1x2 word@2x1"},
	    {"M97 <B>", "M97", "character@5x2 number@6x1"},
	    {"O<A\xC3\x84>", "O<A\xC3\x84>", "character@4x1"},
	};

	WALK(rows);
}

static void calls(void **state)
{
	static const struct row rows[] = {
	    {"MEET(7,1)", "(7,1)@1", ""},
	    {"N10 MEET (7, 12) (A)", "N10 (7, 12)@5", ""},
	    {"N10MEET(7)", "N10 (7)@4", ""},
	    {"/MEET()", "()@2", ""},
	    {"G4 X1. MEET(7,1) Y2.", "G4 X1. Y2. (7,1)@8", ""},
	    {"meet(7)", "(7)@1", "lower@1x4"},
	    {"IF [#1 EQ 1] THEN MEET(7)", "(7)@19", ""},
	};

	WALK(rows);
}

static void no_calls(void **state)
{
	static const struct row rows[] = {
	    {"MEET(7", "", "word@1x1"},
	    {"MEET", "", "word@1x1"},
	    {"MEETS(7)", "", "word@1x1"},
	    {"MEE(7)", "", "word@1x1"},
	    {"MEET(7)MEET(8)", "(7)@1", "word@8x1"},
	    {"MEET((7))", "", "word@1x2"},
	    {"(MEET(7)", "", "nested@6x1"},
	    {";MEET(7)", "", ""},
	};

	WALK(rows);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(names),
	    cmocka_unit_test(damaged_names),
	    cmocka_unit_test(calls),
	    cmocka_unit_test(no_calls),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
