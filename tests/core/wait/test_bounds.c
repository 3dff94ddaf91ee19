/*
 * Goal: whatever a program holds, the proof comes to an end in time and memory that are bounded,
 * and claims nothing that it did not look at; and programs of the sizes that shops have are no
 * burden.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <cmocka.h>
#include "channels.h"

/* Seconds of processor time that a proof may take here; sanitizers take about ten times as much. */
enum { SECONDS = 20 };

/* gcc and clang each say in their own way that sanitizers are on. */
#ifdef __has_feature
#define SANITIZED __has_feature(address_sanitizer)
#elif defined __SANITIZE_ADDRESS__
#define SANITIZED 1
#else
#define SANITIZED 0
#endif

struct bound {
	struct channels c;
	clock_t begun;
};

static void begin(struct bound *b)
{
	channels_begin(&b->c);
	b->begun = clock();
}

static void end(struct bound *b, const char *what)
{
	double seconds = (double)(clock() - b->begun) / CLOCKS_PER_SEC;

	print_message(
	    "%s: %.2f s, %llu states\n", what, seconds, (unsigned long long)b->c.result.states);
	assert_true(SANITIZED || seconds < SECONDS);
	channels_end(&b->c);
}

static void prove_same(struct bound *b, const char *text)
{
	channels_add(&b->c, text);
	channels_add(&b->c, text);
	channels_prove(&b->c);
}

/* A hundred thousand wait codes in the text, and one that is wrong near its end. */
static void many_codes(void **state)
{
	enum { CODES = 100000 };
	struct text t = {0}, wrong = {0};
	struct bound b;

	for (int i = 0; i < CODES; i++) {
		text_printf(&t, "N%d M%d\n", i % 99999, 200 + i % 90);
		text_printf(&wrong, "M%d\n", i == CODES - 10 ? 299 : 200 + i % 90);
	}
	text_puts(&t, "M30\n");
	text_puts(&wrong, "M30\n");
	assert_false(t.failed || wrong.failed);
	begin(&b);
	prove_same(&b, t.s);
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	assert_int_equal(b.c.result.meetings, CODES);
	end(&b, "100,000 codes");
	begin(&b);
	channels_add(&b.c, t.s);
	channels_add(&b.c, wrong.s);
	channels_prove(&b.c);
	assert_int_equal(b.c.result.verdict, VERDICT_DISAGREE);
	assert_int_equal(b.c.result.meetings, CODES - 10);
	assert_int_equal(b.c.result.repair, FINDING_WAIT_DIFFERS);
	assert_int_equal(b.c.result.place_a.line, CODES - 9);
	end(&b, "100,000 codes, one wrong");
	text_free(&t);
	text_free(&wrong);
}

/* Ten million repeats, and a loop that counts as far as run_max. */
static void many_repeats(void **state)
{
	struct bound b;
	const char *repeats = "O1\nM98 P2 L1000\nM30\nO2\nM98 P3 L1000\nM99\nO3\nM98 P4 L5\nM99\n"
	                      "O4\nM201\nM99\n";

	begin(&b);
	b.c.profile.run_max = 20000000;
	prove_same(&b, repeats);
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	assert_int_equal(b.c.result.meetings, 5000000);
	end(&b, "5,000,000 meetings");
	begin(&b);
	prove_same(&b, "#1=0\nWHILE [#1 LT 3000000] DO1\n#1=#1+1\nEND1\nM201\nM30\n");
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	end(&b, "9,000,000 steps of a loop");
	begin(&b);
	prove_same(&b, "#1=0\nWHILE [#1 LT 1] DO1\n#1=#1/2\n#2=#2+1\nEND1\nM201\nM30\n");
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	assert_int_equal(b.c.result.repair, FINDING_LOOP_ENDLESS);
	end(&b, "a loop without end");
}

/* Programs that call themselves, each other, and more deeply than a machine takes. */
static void recursion(void **state)
{
	static const char *const text[] = {"O1\nM98 P1\nM201\nM30\n",
	    "O1\nM98 P2 L9999\nM30\nO2\nM201\nIF [#500 EQ 1] GOTO 5\nM98 P2 L9999\nN5 M99\n",
	    "O1\nG65 P2 A1.\nM30\nO2\nM201\nIF [#1 GT 100] GOTO 5\nG65 P2 A[#1+1]\nN5 M99\n",
	    "O1\nG66 P2 A1.\nX1.\nM201\nM30\nO2\nX1.\nG66 P2 A1.\nM201\nM99\n"};

	for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
		struct bound b;

		begin(&b);
		b.c.profile.call_depth = 64;
		prove_same(&b, text[i]);
		if (b.c.result.verdict != VERDICT_CANNOT_TELL)
			fail_msg("%s: verdict %d", text[i], (int)b.c.result.verdict);
		end(&b, "recursion");
	}
}

/* Conditions on unknown data, one behind the other: of each only what it leads to counts. */
static void many_conditions(void **state)
{
	enum { CONDITIONS = 2000 };
	struct text t = {0};
	struct bound b;

	for (int i = 1; i <= CONDITIONS; i++)
		text_printf(&t, "IF [#%d EQ 1] GOTO %d\nM201\nGOTO %d\nN%d M201\nN%d G0 X1.\n",
		    500 + i % 100, i * 20, i * 20 + 10, i * 20, i * 20 + 10);
	text_puts(&t, "M30\n");
	assert_false(t.failed);
	begin(&b);
	prove_same(&b, t.s);
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	assert_int_equal(b.c.result.meetings, CONDITIONS);
	end(&b, "2000 conditions in each");
	text_free(&t);
}

/* Conditions that the program remembers: as many different runs as there are numbers of 25 bits. */
static void explosion(void **state)
{
	enum { REMEMBERED = 25 };
	struct text t = {0};
	struct bound b;

	for (int i = 1; i <= REMEMBERED; i++)
		text_printf(&t, "#%d=0\nIF [#500 EQ 1] GOTO %d\n#%d=1\nN%d M201\n", i, i, i, i);
	for (int i = 1; i <= REMEMBERED; i++)
		text_printf(&t, "IF [#%d EQ 1] GOTO %d\nM202\nN%d M203\n", i, 100 + i, 100 + i);
	text_puts(&t, "M30\n");
	assert_false(t.failed);
	begin(&b);
	prove_same(&b, t.s);
	assert_int_equal(b.c.result.verdict, VERDICT_CANNOT_TELL);
	end(&b, "25 conditions remembered");
	/* all before the first wait code */
	t.n = 0;
	for (int i = 1; i <= REMEMBERED; i++)
		text_printf(&t, "#%d=0\nIF [#500 EQ 1] GOTO %d\n#%d=1\nN%d\n", i, i, i, i);
	text_puts(&t, "M201\n");
	for (int i = 1; i <= REMEMBERED; i++)
		text_printf(&t, "IF [#%d EQ 1] GOTO %d\nM202\nN%d M203\n", i, 100 + i, 100 + i);
	text_puts(&t, "M30\n");
	begin(&b);
	prove_same(&b, t.s);
	assert_int_equal(b.c.result.verdict, VERDICT_CANNOT_TELL);
	end(&b, "25 conditions remembered, none met between");
	text_free(&t);
}

/* Loops on unknown data in a row and in each other, with counters that never come to an end. */
static void loops_of_unknown_length(void **state)
{
	struct text t = {0};
	struct bound b;

	for (int i = 1; i <= 30; i++)
		text_printf(&t, "#%d=0\nWHILE [#%d LT #%d] DO1\n#%d=#%d+1\nG0 X1.\nEND1\nM%d\n", i,
		    i, 500 + i, i, i, 200 + i);
	text_puts(&t, "M30\n");
	assert_false(t.failed);
	begin(&b);
	prove_same(&b, t.s);
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	assert_int_equal(b.c.result.meetings, 30);
	end(&b, "30 loops of unknown length");
	begin(&b);
	prove_same(&b, "#1=0\nWHILE [#1 LT #501] DO1\n#2=0\nWHILE [#2 LT #502] DO2\n#3=0\n"
	               "WHILE [#3 LT #503] DO3\n#3=#3+1\nEND3\n#2=#2+1\nEND2\n#1=#1+1\nEND1\n"
	               "M201\nM30\n");
	assert_int_equal(b.c.result.verdict, VERDICT_AGREE);
	end(&b, "3 loops in each other");
	begin(&b);
	prove_same(&b, "#1=0\nWHILE [#1 LT #501] DO1\nM201\n#2=0\nWHILE [#2 LT #502] DO2\nM202\n"
	               "#2=#2+1\nEND2\n#1=#1+1\nEND1\nM30\n");
	assert_int_equal(b.c.result.verdict, VERDICT_CANNOT_TELL);
	assert_int_equal(b.c.result.repair, FINDING_WAIT_BRANCH);
	end(&b, "loops of unknown length around codes");
	text_free(&t);
}

/* A loop whose jumps only the run knows, each to another one of so many labels. */
static void jump_about(int labels, enum verdict v, enum finding_id repair)
{
	struct text t = {0};
	struct bound b;

	text_puts(&t, "#1=1\nN1 #1=#1+1\nGOTO #1\n");
	for (int i = 2; i <= labels; i++)
		text_printf(&t, "N%d G0 X1.\nGOTO 1\nN%d\n", i, 99999 - i * 3 % 40000);
	text_printf(&t, "N%d M201\nM30\n", labels + 1);
	assert_false(t.failed);
	begin(&b);
	prove_same(&b, t.s);
	assert_int_equal(b.c.result.verdict, v);
	assert_int_equal(b.c.result.repair, repair);
	end(&b, "computed labels");
	text_free(&t);
}

static void computed_labels(void **state)
{
	jump_about(3000, VERDICT_AGREE, FINDING_COUNT);
	/* looking for labels counts as steps */
	jump_about(50000, VERDICT_CANNOT_TELL, FINDING_RUN_LONG);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(many_codes),
	    cmocka_unit_test(many_repeats),
	    cmocka_unit_test(recursion),
	    cmocka_unit_test(many_conditions),
	    cmocka_unit_test(explosion),
	    cmocka_unit_test(loops_of_unknown_length),
	    cmocka_unit_test(computed_labels),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
